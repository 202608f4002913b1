"""Clock times, with or without a date: HH:MM:SS, AM and PM, midnight passed, dates in the usual orders."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: A clock time at the end of a cell; what stands before it is its date.
BARE_CLOCK: Final = r"(\d{1,2}):(\d{2}):(\d{2}(?:[.,]\d+)?)\s*([AaPp]\.?[Mm]\.?|Z|UTC)?"
CLOCK: Final = rf"(?:(.*)[\sT])?{BARE_CLOCK}"
DAY_S: Final = 86_400.0
_EPOCH_ORDINAL: Final = date(1970, 1, 1).toordinal()
_NAMED_MONTH: Final = re.compile(r"\d{1,2}[-. ][A-Za-z]{3,9}\.?[-. ]\d{4}")
_YEAR_FIRST: Final = re.compile(r"\d{4}[-./]\d{1,2}[-./]\d{1,2}")
_DAY_FIRST: Final = re.compile(r"\d{1,2}\.\d{1,2}\.\d{4}")
_EITHER: Final = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-]\d{4}")


def clock_parts(cells: pd.Series[str]) -> pd.DataFrame:
    """Cut cells into what stands before a clock time (0), hours, minutes, seconds (1 to 3) and AM or PM (4)."""
    return cells.str.extract("^" + CLOCK + "$")


def seconds_of_day(parts: pd.DataFrame) -> Floats:
    """Clock times as seconds after midnight; NaN where a cell holds none."""
    hours, minutes = (_number(parts[k]) for k in (1, 2))
    seconds = _number(parts[3].str.replace(",", ".", regex=False))
    half = parts[4].str[:1].str.lower()
    twelve = half.isin(("a", "p")).to_numpy()
    valid = np.where(twelve, (hours >= 1) & (hours <= 12), hours < 24) & (minutes < 60) & (seconds < 61)
    hours = np.where(twelve, hours % 12 + 12.0 * (half == "p").to_numpy(dtype=bool), hours)
    # Whole microseconds first, so that differences carry no rounding of large sums.
    return np.where(valid, np.round((hours * 3600 + minutes * 60 + seconds) * 1e6) / 1e6, np.nan)


def dates_written(parts: pd.DataFrame) -> pd.Series[str]:
    """Return what stands before the clock time of each cell."""
    return parts[0].fillna("").str.strip().str.rstrip(",")


def day_numbers(dates: pd.Series[str]) -> Floats | None:
    """Read dates as days since 1970-01-01.

    Returns
    -------
    numpy.ndarray or None
        NaN where a cell holds no date; None where the order of day and month cannot be told.
    """
    distinct = pd.Series([text for text in dates.unique() if text], dtype="str")
    either = distinct.str.extract(_EITHER.pattern)
    first, second = _number(either[0]), _number(either[1])
    month_first = bool((second > 12).any())
    if _fits(distinct, _EITHER).any() and not month_first and not (first > 12).any():
        return None
    known = {text: _day_number(text, month_first) for text in distinct}
    return np.asarray(dates.map(known), dtype=np.float64)


def _day_number(text: str, month_first: bool) -> float:
    """Days of one date since 1970-01-01; NaN where it is none."""
    plain = "-".join(re.split(r"[-./ ]+", text))
    for pattern, forms in (
        (_NAMED_MONTH, ("%d-%b-%Y", "%d-%B-%Y")),
        (_YEAR_FIRST, ("%Y-%m-%d",)),
        (_DAY_FIRST, ("%d-%m-%Y",)),
        (_EITHER, ("%m-%d-%Y" if month_first else "%d-%m-%Y",)),
    ):
        for form in forms if pattern.fullmatch(text) else ():
            try:
                return float(datetime.strptime(plain, form).replace(tzinfo=UTC).toordinal() - _EPOCH_ORDINAL)
            except ValueError:
                continue
    return float("nan")


def elapsed_s(of_day_s: Floats, day: Floats | None) -> tuple[Floats, float]:
    """Seconds since the first reading, and that reading; days by their dates, else by times that fall at midnight.

    Parameters
    ----------
    of_day_s : numpy.ndarray
        Seconds after midnight, NaN where there is no reading.
    day : numpy.ndarray or None
        Day of each reading; None where unknown.
    """
    present = np.flatnonzero(np.isfinite(of_day_s))
    first = float(of_day_s[present[0]]) if present.size else 0.0
    turns = np.zeros(of_day_s.size)
    if day is not None and present.size and np.isfinite(day[present]).all():
        turns[present] = day[present] - day[present[0]]
    else:
        turns[present[1:]] = np.cumsum(np.diff(of_day_s[present]) < -DAY_S / 2)
    return np.where(np.isfinite(of_day_s), np.round(of_day_s + turns * DAY_S - first, 9), np.nan), first


def _fits(texts: pd.Series[str], pattern: re.Pattern[str]) -> NDArray[np.bool_]:
    return texts.str.fullmatch(pattern.pattern).to_numpy(dtype=bool)


def _number(texts: pd.Series[str]) -> Floats:
    return pd.to_numeric(texts, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
