"""Where the fit of one stream stands between its rounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.fitting.coarse_lag import coarse_lag
from gearfit.fitting.correlated import Noise
from gearfit.fitting.noise import white_share
from gearfit.fitting.stream import Stream

#: What is believed of a lag before the fit, s: it decides only where the ride does not.
PRIOR_LAG_SD_S: Final = 0.2
#: Speeds written in steps at least this coarse, m/s, are checked for being cut down instead of rounded.
COARSE_STEP_MPS: Final = 0.1


@dataclass
class State:
    """Where the fit of one stream stands: lag and offset taken out, and the spread of what the offset may be."""

    stream: Stream
    lag_s: float
    rpm_share: float
    lag_se_s: float = PRIOR_LAG_SD_S
    offset_mps: float = 0.0
    offset_sd_mps: float = 0.0
    noise: Noise | None = None


def started(stream: Stream) -> State:
    """Begin with the lag at which the ratios crowd most, and with coarse speeds half way between cut and rounded."""
    state = State(stream, coarse_lag(stream), _rpm_share(stream))
    if stream.speed_step_mps >= COARSE_STEP_MPS:
        state.offset_mps = state.offset_sd_mps = stream.speed_step_mps / 4
    return state


def _rpm_share(stream: Stream) -> float:
    """White noise of the engine speed as recorded; of slow channels, which nobody smooths, the ratios show it all."""
    return white_share(stream.engine_rpm, stream.rpm_sd_rpm) if stream.fast else 0.0
