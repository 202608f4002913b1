"""What the fit of a setup's timed logs gives: per log, and for all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.drive import Drive
from gearfit.fitting.ratios.engine_offset import EngineOffset
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.state import PRIOR_LAG_SD_S, State
from gearfit.fitting.which_gear.known_ladder import LadderFit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A lag counts as found when its standard error is below this share of that.
_LAG_KNOWN: Final = 0.5


@dataclass(frozen=True, eq=False)
class StreamFit:
    """What was found for one stream: lag and speed offset with their standard errors, noise, gear per sample.

    `noise` and `drive` are None where no sample was in gear; `engine` is what the ride shows the engine speeds to lack.
    """

    stream: Stream
    lag_s: float
    lag_se_s: float
    lag_known: bool
    offset_mps: float
    offset_se_mps: float
    noise: Noise | None
    observed: Observed
    path: IntArray
    drive: Drive | None = None
    engine: EngineOffset | None = None


def stream_fit(state: State, o: Observed, path: IntArray) -> StreamFit:
    """Sum up one stream whose fit has ended in `state`."""
    known = state.lag_se_s < _LAG_KNOWN * PRIOR_LAG_SD_S
    return StreamFit(
        state.stream,
        state.lag_s,
        state.lag_se_s,
        known,
        state.offset_mps,
        state.offset_sd_mps,
        state.noise,
        o,
        path,
        state.drive,
        state.engine,
    )


@dataclass(frozen=True, eq=False)
class TimedFit:
    """Fit of all timed logs of one setup.

    Attributes
    ----------
    levels : Levels or None
        Labels are gear numbers (position in the ladder + 1); None where no gears were found.
    centres : (G,) float
        ln(n/v) of every gear of the ladder, ridden or not.
    shift : LadderFit or None
        How surely the ladder was placed; None where it came from these samples.
    reason : str
        Why there are no levels.
    doubtful : (D,) float
        ln(n/v) of steps that were engaged once and too briefly to be called gears; only without a ladder.
    by_starts : bool
        Whether lag and place of the ladder were found together, as the ride does not show the lag by itself.
    by_runs : bool
        Whether the steps are those of a short ride that may have used each once; only without a ladder.
    """

    streams: tuple[StreamFit, ...]
    levels: Levels | None
    centres: FloatArray
    shift: LadderFit | None
    reason: str
    doubtful: FloatArray
    by_starts: bool = False
    by_runs: bool = False
