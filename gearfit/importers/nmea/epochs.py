"""Puts the sentences of one moment together: date and time, position, speed, height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.nmea.sentences import Bools, Places, Sentences

Floats = NDArray[np.float64]

DAY_S: Final = 86_400
#: Two-digit years up to this one are of this century, as POSIX strptime has it.
_LAST_SHORT_YEAR: Final = 68
_RMC: Final = {1: "time", 2: "status", 3: "lat", 4: "north", 5: "lon", 6: "east", 7: "knots", 9: "date"}
_GGA: Final = {1: "time", 2: "lat", 3: "north", 4: "lon", 5: "east", 6: "quality", 9: "height"}
_VTG: Final = {5: "knots"}
_ZDA: Final = {1: "time", 2: "day", 3: "month", 4: "year"}
_FIELDS: Final = {"RMC": _RMC, "GGA": _GGA, "VTG": _VTG, "ZDA": _ZDA}


@dataclass(frozen=True, eq=False)
class Epochs:
    """Moments in the order of the file; NaN where a sentence or field is missing.

    Attributes
    ----------
    line : numpy.ndarray
        Line of the first sentence of each moment.
    time_s : numpy.ndarray
        Unix seconds; seconds after the first midnight where `dated` is False.
    latitude_deg, longitude_deg, elevation_m, speed_knots : numpy.ndarray
        As sent by the receiver.
    void : numpy.ndarray of bool
        The receiver itself said that it had no fix.
    dated : bool
        Whether any sentence stated a date.
    only_vtg : bool
        Whether all speeds are of VTG sentences, none of RMC.
    untimed : int
        Sentences without a readable time, left out.
    """

    line: Places
    time_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    elevation_m: Floats
    speed_knots: Floats
    void: Bools
    dated: bool
    only_vtg: bool
    untimed: int


def read_epochs(sentences: Sentences, usable: Bools) -> Epochs:
    """Read the usable RMC, GGA, VTG and ZDA sentences.

    A VTG has no time: it belongs to the timed sentence before it. Speeds and positions of RMC come before those of
    VTG and GGA. A day begins where the time of day falls by more than half a day.
    """
    chosen = {name: usable & sentences.called(name) for name in _FIELDS}
    present = [name for name, members in chosen.items() if members.any()] or ["RMC"]
    parts = [_part(sentences, chosen[name], name, _FIELDS[name]) for name in present]
    events = pd.concat(parts, ignore_index=True).sort_values("line", kind="stable", ignore_index=True)
    unreadable = events["kind"].ne("VTG") & events["tod_s"].isna()
    events = events[~unreadable]
    events = events.assign(tod_s=events["tod_s"].ffill()).dropna(subset=["tod_s"])
    tod_s = events["tod_s"].to_numpy(np.float64)
    number = np.cumsum(np.diff(tod_s, prepend=tod_s[:1]) != 0)
    # Groups are numbered in order of the file, and `first` takes the first value that is not missing.
    moments = events.drop(columns="kind").groupby(number, sort=False).first()
    time_s, dated = _absolute(moments["tod_s"].to_numpy(np.float64), moments["day"].to_numpy(np.float64))
    knots = moments["knots"].to_numpy(np.float64)
    from_vtg = moments["vtg_knots"].to_numpy(np.float64)
    return Epochs(
        line=moments["line"].to_numpy(np.int64),
        time_s=time_s,
        latitude_deg=moments["latitude_deg"].to_numpy(np.float64),
        longitude_deg=moments["longitude_deg"].to_numpy(np.float64),
        elevation_m=moments["height"].to_numpy(np.float64),
        speed_knots=np.where(np.isfinite(knots), knots, from_vtg),
        void=events["void"].groupby(number, sort=False).any().to_numpy(bool),
        dated=dated,
        only_vtg=not np.isfinite(knots).any(),
        untimed=int(unreadable.sum()),
    )


def _part(sentences: Sentences, chosen: Bools, name: str, wanted: dict[int, str]) -> pd.DataFrame:
    """Read one kind of sentence into the columns that all kinds share."""
    fields = sentences.fields(chosen, wanted)
    missing = np.full(len(fields), np.nan)
    tod_s = _time_of_day(fields["time"]) if "time" in fields else missing
    latitude_deg = _degrees(fields, "lat", "north", "N", "S", 90.0) if "lat" in fields else missing
    longitude_deg = _degrees(fields, "lon", "east", "E", "W", 180.0) if "lon" in fields else missing
    known = np.isfinite(latitude_deg) & np.isfinite(longitude_deg)
    void = _void(fields)
    knots = _numbers(fields["knots"]) if "knots" in fields else missing
    return pd.DataFrame(
        {
            "line": sentences.line[chosen],
            "kind": name,
            "tod_s": tod_s,
            "day": _days(fields),
            "latitude_deg": np.where(known & ~void, latitude_deg, np.nan),
            "longitude_deg": np.where(known & ~void, longitude_deg, np.nan),
            "height": np.where(void, np.nan, _numbers(fields["height"])) if "height" in fields else missing,
            "knots": np.where(void, np.nan, knots) if name == "RMC" else missing,
            "vtg_knots": knots if name == "VTG" else missing,
            "void": void,
        }
    )


def _numbers(column: pd.Series[float]) -> Floats:
    values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    return np.where(np.isfinite(values), values, np.nan)


def _time_of_day(column: pd.Series[float]) -> Floats:
    """Seconds after midnight of hhmmss.sss; NaN where it is no time."""
    value = _numbers(column)
    hours, rest = np.divmod(value, 10_000)
    minutes, seconds = np.divmod(rest, 100)
    possible = (value >= 0) & (hours < 24) & (minutes < 60) & (seconds < 61)
    return np.where(possible, np.round(3600 * hours + 60 * minutes + seconds, 6), np.nan)


def _degrees(fields: pd.DataFrame, value: str, side: str, plus: str, minus: str, most: float) -> Floats:
    """Degrees of ddmm.mmmm with the letter of the hemisphere."""
    degrees, minutes = np.divmod(_numbers(fields[value]), 100)
    letters = fields[side].astype(str).to_numpy()
    sign = np.where(letters == plus, 1.0, np.where(letters == minus, -1.0, np.nan))
    result = sign * (degrees + minutes / 60)
    return np.where((minutes < 60) & (np.abs(result) <= most), result, np.nan)


def _void(fields: pd.DataFrame) -> Bools:
    if "status" in fields:
        return fields["status"].astype(str).ne("A").to_numpy(bool)
    if "quality" in fields:
        return ~(_numbers(fields["quality"]) >= 1)
    return np.zeros(len(fields), dtype=bool)


def _days(fields: pd.DataFrame) -> Floats:
    """Days since 1970-01-01; NaN where no valid date stands."""
    if "date" in fields:
        number, place = np.unique(_numbers(fields["date"]), return_inverse=True)
        day, rest = np.divmod(number, 10_000)
        month, year = np.divmod(rest, 100)
        return _day_numbers(year + np.where(year <= _LAST_SHORT_YEAR, 2000, 1900), month, day)[place]
    if "year" in fields:
        return _day_numbers(*(_numbers(fields[name]) for name in ("year", "month", "day")))
    return np.full(len(fields), np.nan)


def _day_numbers(year: Floats, month: Floats, day: Floats) -> Floats:
    dates = pd.to_datetime(pd.DataFrame({"year": year, "month": month, "day": day}), errors="coerce")
    return np.asarray((dates - pd.Timestamp(0)).dt.days, dtype=np.float64)


def _absolute(tod_s: Floats, day: Floats) -> tuple[Floats, bool]:
    """Join dates and times of day; moments without a date take that of the nearest one before, else after."""
    passed = np.cumsum(np.diff(tod_s, prepend=tod_s[:1]) < -DAY_S / 2)
    first_day = pd.Series(day - passed).ffill().bfill().to_numpy()
    dated = bool(np.isfinite(first_day).any())
    days = np.where(np.isfinite(day), day, first_day + passed) if dated else passed.astype(np.float64)
    return days * DAY_S + tod_s, dated
