"""To which step engine speeds were read, over all sheets of a ride folder: few rows alone do not tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.importers.common.written_step import written_step
from gearfit.importers.sheet.reader import COARSEST_RPM
from gearfit.records.recording import Recording, RideSetup

_SHEETS: Final = ("samples", "held rpm")


def with_common_steps(setups: Sequence[RideSetup]) -> tuple[RideSetup, ...]:
    """Widen the step of each sheet to the one that all sheets together show.

    A sheet of few rows gives the place of its last digit, 1 rev/min, as its step. One notebook in two files would be
    taken to be read more finely than the same in one.
    """
    readings = [
        recording.samples["engine_rpm"].to_numpy()
        for setup in setups
        for recording in setup.recordings
        if recording.kind in _SHEETS
    ]
    values = np.concatenate([np.empty(0), *readings])
    shown = written_step(values[np.isfinite(values)])
    step = min(shown or 0.0, COARSEST_RPM)
    return tuple(
        replace(setup, recordings=tuple(_widened(recording, step) for recording in setup.recordings))
        for setup in setups
    )


def _widened(recording: Recording, step: float) -> Recording:
    own = recording.rpm_step_rpm
    if recording.kind not in _SHEETS or own is None or own >= step:
        return recording
    samples = recording.samples.assign(rpm_sd_rpm=recording.samples["rpm_sd_rpm"] * step / own)
    return replace(recording, samples=samples, rpm_step_rpm=step)
