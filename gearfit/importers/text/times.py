"""A time column, in whatever form it was written, as seconds."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError, UnitError
from gearfit.importers.common.cells import missing, parse
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.quoting import quoted
from gearfit.importers.common.stray_times import strays
from gearfit.importers.text.clock_times import DAY_S, clock_parts, dates_written, day_numbers, elapsed_s, seconds_of_day
from gearfit.records.recording import Clock

Floats = NDArray[np.float64]

_ISO: Final = r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}.*"
_TWELVE_HOURS: Final = r".*[AaPp]\.?[Mm]\.?"
_ZONE: Final = r".*(?:[Zz]|[+-]\d{2}:?\d{2})"
#: Unix times from 2001 to 2096, and how they were counted -> seconds in one count.
_UNIX_FROM, _UNIX_TO = 1e9, 4e9
_UNIX_COUNTS: Final = {"Unix s": 1.0, "Unix ms": 1e-3, "Unix µs": 1e-6, "Unix ns": 1e-9}
#: Plain numbers without a unit are seconds only where rows follow this closely.
_LONGEST_STEP_S: Final = 5.0
#: Plain numbers beyond this are no times: nanoseconds since 1970 stay below it until 2286.
_LARGEST: Final = 1e19
#: Years in which a ride, or a clock that was never set, can lie.
_FIRST_YEAR, _LAST_YEAR = 1900, 2200
ALLOWED: Final = "seconds, HH:MM:SS (or with AM/PM), ISO 8601 (2024-05-01T12:00:00Z) or Unix time"


@dataclass(frozen=True, eq=False)
class Times:
    """A time column: seconds after `origin_s` (NaN where unreadable), clock, its reading at 0, form as written.

    `strays` are rows whose time can be read and cannot be right; their seconds are NaN as well. `day` is the day of the
    first time where a clock without a zone has dates, counted from 1970-01-01; None unknown.
    """

    seconds: Floats
    clock: Clock
    origin_s: float
    form: str
    strays: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    day: int | None = None


def read_times(cells: pd.Series[str], lines: NDArray[np.int64], name: str, meaning: Meaning) -> Times:
    """Read a time column.

    Raises
    ------
    LogError
        More than half of the cells hold no time, or numbers that cannot be one.
    UnitError
        Plain numbers that may be seconds or milliseconds.
    """
    filled = ~missing(cells)
    numbers = parse(cells)
    if np.isfinite(numbers).sum() > filled.sum() / 2:
        return times_of_numbers(numbers, name, meaning)
    iso = (cells.str.fullmatch(_ISO) & ~cells.str.fullmatch(_TWELVE_HOURS)).to_numpy(dtype=bool)
    if iso.sum() > filled.sum() / 2:
        return _from_iso(cells.where(pd.Series(iso, index=cells.index), ""), meaning)
    parts = clock_parts(cells)
    clock = parts[1].notna().to_numpy()
    if clock.sum() > filled.sum() / 2:
        return _from_clock(parts, meaning)
    wrong = np.flatnonzero(filled & ~np.isfinite(numbers) & ~iso & ~clock)
    first = int(wrong[0]) if wrong.size else 0
    raise LogError(
        f"{name}, line {lines[first]}, column {meaning.header!r}",
        f"{quoted(cells.iloc[first])} is no time; allowed is {ALLOWED}",
        "Write the times in one of these forms",
    )


def times_of_numbers(numbers: Floats, name: str, meaning: Meaning) -> Times:
    """Read times written as plain numbers, some of which are finite.

    Raises
    ------
    LogError
        None of the numbers can be a time.
    UnitError
        They may be seconds or milliseconds.
    """
    numbers = np.where(np.abs(numbers) < _LARGEST, numbers, np.nan)
    known = numbers[np.isfinite(numbers)]
    if not known.size:
        raise LogError(
            f"{name}, column {meaning.header!r}",
            f"no number in it can be a time (all are beyond {_LARGEST:g}); allowed is {ALLOWED}",
            "Record the ride again",
        )
    typical = _middle(known)
    for form, factor in _UNIX_COUNTS.items():
        if _UNIX_FROM <= typical * factor < _UNIX_TO and meaning.unit in (None, "utc", form.removeprefix("Unix ")):
            return _after_the_first(numbers, factor, "utc", form)
    if meaning.unit in (None, "utc"):
        steps = np.diff(known)
        # Half of the steps are at least as long as the median: only where so many are long is it worth seeking.
        if 2 * np.count_nonzero(steps > _LONGEST_STEP_S) >= steps.size > 0 and np.median(steps) > _LONGEST_STEP_S:
            raise UnitError(
                f"{name}, column {meaning.header!r}",
                f"rows follow every {np.median(steps):g}, and the header does not say whether in seconds or "
                "milliseconds",
                "Write time_s or time_ms as the header",
            )
    unit = "s" if meaning.unit in (None, "utc") else meaning.unit
    return _after_the_first(numbers, meaning.factor, "elapsed", unit)


def _after_the_first(numbers: Floats, factor: float, clock: Clock, form: str) -> Times:
    """Count from the first number that is a time, so that differences carry no rounding of large ones."""
    stray = strays(numbers * factor)
    numbers = np.where(stray, np.nan, numbers)
    first = float(numbers[np.isfinite(numbers)][0])
    return Times((numbers - first) * factor, clock, first * factor, form, stray)


def _middle(known: Floats) -> float:
    """Return the median, without sorting what is in order already."""
    if (known[1:] >= known[:-1]).all():
        return float(known[(known.size - 1) // 2] + known[known.size // 2]) / 2
    return float(np.median(known))


def _from_iso(cells: pd.Series[str], meaning: Meaning) -> Times:
    text = cells.str.replace(",", ".", regex=False)
    zoned = cells.str.fullmatch(_ZONE)
    absolute = bool(zoned.sum() > (cells != "").sum() / 2) or meaning.unit == "utc"
    if meaning.unit != "utc":
        text = text.where(zoned == absolute, "")
    instants = pd.to_datetime(text.where(text != ""), format="ISO8601", utc=True, errors="coerce")
    instants = instants.where(instants.dt.year.between(_FIRST_YEAR, _LAST_YEAR))
    nanoseconds = instants.dt.tz_convert(None).to_numpy(dtype="datetime64[ns]")
    good = ~np.isnat(nanoseconds)
    counts = nanoseconds.astype(np.int64)
    stray = strays(np.where(good, counts / 1e9, np.nan))
    good &= ~stray
    first = int(counts[good][0]) if good.any() else 0
    seconds = np.where(good, (counts - np.where(good, first, counts)) / 1e9, np.nan)
    origin_s = first / 10**9
    if absolute:
        return Times(seconds, "utc", origin_s, "ISO 8601", stray)
    day, of_day = divmod(first, int(DAY_S * 1e9))
    return Times(seconds, "time of day", of_day / 1e9, "ISO 8601 without zone", stray, day if good.any() else None)


def _from_clock(parts: pd.DataFrame, meaning: Meaning) -> Times:
    """Clock times; with dates and a header that says UTC they are absolute."""
    dates = dates_written(parts)
    day = day_numbers(dates)
    of_day_s = seconds_of_day(parts)
    seconds, first_s = elapsed_s(of_day_s, day)
    stray = strays(seconds)
    if stray.any():
        seconds, first_s = elapsed_s(np.where(stray, np.nan, of_day_s), day)
    present = np.flatnonzero(np.isfinite(seconds))
    form = "date and HH:MM:SS" if (dates != "").any() else "HH:MM:SS"
    dated = day is not None and present.size > 0 and bool(np.isfinite(day[present]).all())
    first_day = int(day[present[0]]) if day is not None and dated else None
    if meaning.unit == "utc" and first_day is not None:
        return Times(seconds, "utc", first_day * DAY_S + first_s, form, stray)
    return Times(seconds, "time of day", first_s, form, stray, first_day)
