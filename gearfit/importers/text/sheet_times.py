"""Times that a person noted beside held engine speeds, and what tells such a sheet from a log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.common.cells import missing
from gearfit.importers.text.columns import Choice
from gearfit.records.recording import Clock

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

#: Nobody holds engine speeds and notes them more often than this on average, s; loggers of use write far more often.
_LEAST_SPACING_S: Final = 4.0
#: A clock time without seconds: only people write it.
_TO_THE_MINUTE: Final = r"((?:.*[\sT])?\d{1,2}:\d{2})(\s*(?:[AaPp]\.?[Mm]\.?|Z|UTC))?"


@dataclass(frozen=True, eq=False)
class SheetTimes:
    """Times of a sheet's rows.

    Attributes
    ----------
    order : (n,) int
        The rows by the clock; a row without a time stays behind the one that stands before it.
    time_s : (n,) float
        In that order, from the first; NaN where not noted.
    clock, start_s
        As in `gearfit.records.recording.Recording`.
    form : str
        How the times are written.
    """

    order: Rows
    time_s: Floats
    clock: Clock
    start_s: float
    form: str


def noted_times(choice: Choice) -> SheetTimes | None:
    """Read the times of gears and engine speeds; None where the rows follow each other as only a logger's do.

    Clock times to the minute are allowed, as people write them: they stand for the beginning of that minute.

    Raises
    ------
    LogError, UnitError
        As `gearfit.importers.text.times.read_times`.
    """
    number, _ = choice.chosen["time_s"]
    cells = choice.table.cells[number]
    short = cells.str.fullmatch(_TO_THE_MINUTE).to_numpy(dtype=bool)
    by_hand = short.sum() > (~missing(cells)).sum() / 2
    times = choice.times(_with_seconds(cells) if by_hand else cells)
    if not by_hand and not far_apart(times.seconds):
        return None
    order = np.argsort(pd.Series(times.seconds).ffill().bfill().to_numpy(), kind="stable")
    first_s = float(np.nanmin(times.seconds))
    form = times.form.removesuffix(":SS") if by_hand else times.form
    return SheetTimes(order, times.seconds[order] - first_s, times.clock, times.origin_s + first_s, form)


def far_apart(time_s: Floats) -> bool:
    """Whether rows follow each other as slowly as a person can hold engine speeds and note them."""
    noted = time_s[np.isfinite(time_s)]
    return float(np.ptp(noted)) >= _LEAST_SPACING_S * (noted.size - 1)


def _with_seconds(cells: pd.Series[str]) -> pd.Series[str]:
    parts = cells.str.extract(f"^{_TO_THE_MINUTE}$")
    return cells.where(parts[0].isna(), parts[0] + ":00" + parts[1].fillna(""))
