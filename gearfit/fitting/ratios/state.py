"""Where the fit of one stream stands between its rounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.coarse_lag import coarse_lag
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.drive import Drive
from gearfit.fitting.ratios.engine_offset import EngineOffset
from gearfit.fitting.ratios.noise import white_share

FloatArray = NDArray[np.float64]

#: What is believed of a lag before the fit, s: it decides only where the ride does not.
PRIOR_LAG_SD_S: Final = 0.2
#: Standard deviation that stands for "held", s.
HELD_LAG_SD_S: Final = 1e-5
#: Speeds written in steps at least this coarse, m/s, are checked for being cut down instead of rounded.
COARSE_STEP_MPS: Final = 0.1


@dataclass
class State:
    """Where the fit of one stream stands: lag and offset taken out, and the spread of what the offset may be.

    `believed_lag_s` and its standard deviation are what was believed of the lag beforehand; where it is `held`, the
    ride adds nothing to that.
    """

    stream: Stream
    lag_s: float
    rpm_share: float
    believed_lag_s: float = 0.0
    believed_lag_sd_s: float = PRIOR_LAG_SD_S
    held: bool = False
    lag_se_s: float = PRIOR_LAG_SD_S
    offset_mps: float = 0.0
    offset_sd_mps: float = 0.0
    noise: Noise | None = None
    drive: Drive | None = None
    engine: EngineOffset | None = None


def started(stream: Stream, lag: tuple[float, float] | None = None) -> State:
    """Begin with a lag and coarse speeds half way between cut and rounded.

    `lag` is where it is held, value and standard deviation, s; None: about 0, begun where the ratios crowd most.
    """
    if lag is None:
        state = State(stream, coarse_lag(stream), _rpm_share(stream))
    else:
        state = State(stream, lag[0], _rpm_share(stream), *lag, held=True)
    if stream.speed_step_mps >= COARSE_STEP_MPS:
        state.offset_mps = state.offset_sd_mps = stream.speed_step_mps / 4
    return state


def lag_beliefs(states: Sequence[State]) -> tuple[FloatArray, FloatArray]:
    """Return how far each lag stands beyond what was believed of it, and that belief's standard deviation, s."""
    beyond_s = np.array([s.lag_s - s.believed_lag_s for s in states])
    return beyond_s, np.array([HELD_LAG_SD_S if s.held else s.believed_lag_sd_s for s in states])


def _rpm_share(stream: Stream) -> float:
    """White noise of the engine speed as recorded; of slow channels, which nobody smooths, the ratios show it all."""
    return white_share(stream.engine_rpm, stream.rpm_sd_rpm) if stream.fast else 0.0
