"""To which step engine speeds were read, over all sheets of a ride folder: few rows alone do not tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.written_step import written_step
from gearfit.importers.sheet.reader import COARSEST_RPM
from gearfit.records.recording import Recording, RideSetup

FloatArray = NDArray[np.float64]

_SHEETS: Final = ("samples", "held rpm")
#: Coarsest step to which the needle is taken to be read where road speeds were held and so it was no target (ours).
_COARSEST_READ_RPM: Final = 500.0
#: Distinct engine speeds from which their common divisor is the step: twice the true one in 1 of 16 cases, which is
#: wide and not wrong, where the last digit written would be narrow and wrong.
_DISTINCT_READ: Final = 4


def with_common_steps(setups: Sequence[RideSetup]) -> tuple[RideSetup, ...]:
    """Widen the step of each sheet to the one that all sheets together show.

    A sheet of few rows gives the place of its last digit, 1 rev/min, as its step. One notebook in two files would be
    taken to be read more finely than the same in one.
    """
    sheets = [r.samples for setup in setups for r in setup.recordings if r.kind in _SHEETS]
    names = "engine_rpm", "speed_mps", "indicated_mps"
    rpm, *speeds = (_distinct([s[name].to_numpy() for s in sheets]) for name in names)
    held = min((speed.size for speed in speeds if speed.size), default=rpm.size) < rpm.size
    step = _shown(rpm, speeds_held=held)
    return tuple(
        replace(setup, recordings=tuple(_widened(recording, step) for recording in setup.recordings))
        for setup in setups
    )


def _distinct(columns: Sequence[FloatArray]) -> FloatArray:
    values = np.concatenate([np.empty(0), *columns])
    return np.unique(values[np.isfinite(values)])


def _shown(engine_rpm: FloatArray, *, speeds_held: bool) -> float:
    """Step of distinct engine speeds; where fewer distinct speeds were the targets, the needle was read beside them."""
    if speeds_held and engine_rpm.size >= _DISTINCT_READ and _whole(engine_rpm):
        return min(float(np.gcd.reduce(np.rint(engine_rpm).astype(np.int64))), _COARSEST_READ_RPM)
    return min(written_step(engine_rpm) or 0.0, COARSEST_RPM)


def _whole(engine_rpm: FloatArray) -> bool:
    return bool(np.all(np.abs(engine_rpm - np.rint(engine_rpm)) < 1e-3) and engine_rpm.max() < 1e6)


def _widened(recording: Recording, step: float) -> Recording:
    own = recording.rpm_step_rpm
    if recording.kind not in _SHEETS or own is None or own >= step:
        return recording
    samples = recording.samples.assign(rpm_sd_rpm=recording.samples["rpm_sd_rpm"] * step / own)
    return replace(recording, samples=samples, rpm_step_rpm=step)
