"""What a setup offers to the fit: streams of timed logs, the rows of its sheets, and why other rows cannot be used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.pairing.held_clock import Watch
from gearfit.fitting.pairing.stream import Stream

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def _none_given() -> FloatArray:
    return np.empty(0)


@dataclass(frozen=True, eq=False)
class Sheet:
    """Hand-entered samples of a setup.

    Attributes
    ----------
    rows : (n,) int
        Rows in the table of the setup.
    speed_mps, speed_sd_mps, engine_rpm, rpm_sd_rpm : (n,) float
        The readings, each with its standard error from reading alone: how steadily a person holds an engine speed is
        not in it.
    stated_gear : (n,) float
        Gear as noted; NaN where none was.
    speed_step_mps, rpm_step_rpm : (n,) float
        Step to which each reading was made; NaN unknown, as everywhere where they are not given.
    """

    rows: IntArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    engine_rpm: FloatArray
    rpm_sd_rpm: FloatArray
    stated_gear: FloatArray
    speed_step_mps: FloatArray = field(default_factory=_none_given)
    rpm_step_rpm: FloatArray = field(default_factory=_none_given)

    def __post_init__(self) -> None:
        for name in ("speed_step_mps", "rpm_step_rpm"):
            if getattr(self, name).size != self.rows.size:
                object.__setattr__(self, name, np.full(self.rows.size, np.nan))


@dataclass(frozen=True, eq=False)
class Track:
    """Measured speeds of one recording ((n,) each), and its clock."""

    time_s: FloatArray
    speed_mps: FloatArray
    watch: Watch


@dataclass(frozen=True, eq=False)
class Material:
    """What a setup offers to the fit.

    Attributes
    ----------
    table : pandas.DataFrame
        All samples of the setup, in order, as `gearfit.records.schema`.
    reasons : (n,) object
        Why a row cannot be used ("" where it can).
    problems : tuple of str
        What kept whole files from being used, each a sentence.
    remarks : tuple of str
        What was done to join recordings (clocks, held engine speeds), each a sentence.
    tracks : tuple of Track
        Measured speeds of each timed recording, engine speed or not.
    clocks : mapping of str to Watch
        Clock of each file.
    """

    table: pd.DataFrame
    reasons: NDArray[np.object_]
    streams: tuple[Stream, ...]
    sheet: Sheet
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    tracks: tuple[Track, ...]
    clocks: Mapping[str, Watch]
