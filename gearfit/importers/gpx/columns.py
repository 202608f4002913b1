"""The track points of a GPX file as they are read, some at a time: texts, then columns of numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.common.plain_numbers import plain_numbers

Floats = NDArray[np.float64]
Texts = list[str | None]

#: Elements read: straight below a point, and at any depth in its extensions (speed in m/s, rpm in rev/min).
DIRECT: Final = frozenset(("time", "ele", "speed"))
INNER: Final = {"speed": "inner speed", "rpm": "rpm"}
#: Columns of numbers beside the segment.
NUMBERS: Final = ("unix_s", "latitude_deg", "longitude_deg", "elevation_m", "speed_mps", "engine_rpm")
#: Values for which a column has room at first, and how much more it gets when that is full.
_FIRST_SIZE: Final = 32_768
_GROWTH: Final = 1.25
_ZONE: Final = re.compile(r"(?:[Zz]|[+-]\d{2}:?\d{2})$")


@dataclass
class Scan:
    """Track points in the order of the file, as texts.

    Attributes
    ----------
    latitude_deg, longitude_deg : list of float
        Positions.
    segment : list of int
        Number of the track segment, from 1.
    texts : dict
        Texts of "time", "ele", "speed", "inner speed" (of an extension) and "rpm", None where a point has none.
    """

    latitude_deg: list[float] = field(default_factory=list)
    longitude_deg: list[float] = field(default_factory=list)
    segment: list[int] = field(default_factory=list)
    texts: dict[str, Texts] = field(default_factory=lambda: {key: [] for key in (*DIRECT, *INNER.values())})


@dataclass
class Wrong:
    """Points with the same fault: how many, and number and text of the first."""

    count: int = 0
    first: int = 0
    text: str = ""

    def add(self, rows: NDArray[np.int64], before: int, texts: Texts) -> None:
        """Count rows of a part of the file that begins after the point `before`."""
        if rows.size and not self.count:
            self.first, self.text = before + int(rows[0]) + 1, texts[rows[0]] or ""
        self.count += rows.size


class Grown:
    """A column that grows in place, so that its parts are never held beside it."""

    def __init__(self) -> None:
        self._values: Floats = np.empty(_FIRST_SIZE)
        self.size = 0

    def add(self, values: Floats) -> None:
        """Add values at the end."""
        end = self.size + values.size
        if end > self._values.size:
            self._values.resize(max(end, int(_GROWTH * self._values.size)), refcheck=False)
        self._values[self.size : end] = values
        self.size = end

    def whole(self) -> Floats:
        """Return the column; nothing can be added any more."""
        self._values.resize(self.size, refcheck=False)
        return self._values


@dataclass
class Columns:
    """Track points read so far as blocks of numbers, with what is to be said of them.

    Attributes
    ----------
    count, outside : int
        Points, and those of them that lie in no track segment.
    has_route_or_waypoint : bool
        Whether there are other points.
    numbers : dict
        Each of `NUMBERS`, and "segment"; NaN where a point has none.
    no_time, no_zone, bad_time : Wrong
        Points without a time, without a zone, with a time that is none.
    no_number : dict
        Points whose "ele", "speed" or "rpm" is no number.
    stated : set of str
        Keys of `Scan.texts` of which any point has a text.
    """

    count: int = 0
    outside: int = 0
    has_route_or_waypoint: bool = False
    numbers: dict[str, Grown] = field(default_factory=lambda: {name: Grown() for name in (*NUMBERS, "segment")})
    no_time: Wrong = field(default_factory=Wrong)
    no_zone: Wrong = field(default_factory=Wrong)
    bad_time: Wrong = field(default_factory=Wrong)
    no_number: dict[str, Wrong] = field(default_factory=lambda: {label: Wrong() for label in ("ele", "speed", "rpm")})
    stated: set[str] = field(default_factory=set)

    def add_texts(self, scan: Scan) -> None:
        """Add points as texts."""
        if not scan.segment:
            return
        texts = scan.texts
        self.stated |= {slot for slot, column in texts.items() if any(column)}
        speeds = [one or other for one, other in zip(texts["speed"], texts["inner speed"], strict=True)]
        numbers = {
            "unix_s": self._unix_times(texts["time"]),
            "latitude_deg": np.array(scan.latitude_deg),
            "longitude_deg": np.array(scan.longitude_deg),
            "elevation_m": self._numbers("ele", texts["ele"]),
            "speed_mps": self._numbers("speed", speeds),
            "engine_rpm": self._numbers("rpm", texts["rpm"]),
        }
        self.add_numbers(numbers, np.array(scan.segment, dtype=np.int64))

    def add_numbers(self, numbers: dict[str, Floats], segment: NDArray[np.int64]) -> None:
        """Add points as numbers; a column that is missing is NaN."""
        for name in NUMBERS:
            self.numbers[name].add(numbers[name] if name in numbers else np.full(segment.size, np.nan))
        self.numbers["segment"].add(segment.astype(np.float64))
        self.count += segment.size

    def _unix_times(self, times: Texts) -> Floats:
        texts = pd.Series(times, dtype="str")
        present = texts.fillna("") != ""
        zoned = texts.str.contains(_ZONE).fillna(False).astype(bool)
        instants = pd.to_datetime(texts.where(present), format="ISO8601", utc=True, errors="coerce")
        unread = instants.isna().to_numpy()
        self.no_time.add(np.flatnonzero(~present), self.count, times)
        self.no_zone.add(np.flatnonzero(present & ~zoned), self.count, times)
        self.bad_time.add(np.flatnonzero(present & unread), self.count, times)
        microseconds = instants.dt.tz_convert(None).to_numpy(dtype="datetime64[us]").astype(np.int64)
        return np.where(unread, np.nan, microseconds / 1e6)

    def _numbers(self, label: str, texts: Texts) -> Floats:
        """Read numbers, NaN where a point has none."""
        plain = plain_numbers([text or "nan" for text in texts])
        if plain is not None and np.isfinite(plain).sum() == sum(map(bool, texts)):
            return plain
        column = pd.Series(texts, dtype="str")
        values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
        values = np.where(np.isfinite(values), values, np.nan)
        self.no_number[label].add(
            np.flatnonzero(np.isnan(values) & (column.fillna("") != "").to_numpy()), self.count, texts
        )
        return values
