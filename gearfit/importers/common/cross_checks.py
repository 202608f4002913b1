"""Checks the channels of one file against each other: what they say together shows a unit that is wrong."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UnitError
from gearfit.importers.common.geodesy import distance_m
from gearfit.importers.common.track_speed import PAUSE_INTERVALS
from gearfit.importers.common.unit_spellings import SPEED_SPELLINGS, TIME_SPELLINGS, unit_of
from gearfit.records.recording import Column, Recording
from gearfit.units import SPEED_UNIT_LABELS, SPEED_UNITS_MPS

Floats = NDArray[np.float64]

#: No logger of use writes rows more often than this on average, s; judged from so many rows.
_SHORTEST_STEP_S: Final = 1e-3
_FEWEST_ROWS: Final = 10
#: Distance between the ends of a stretch on which speed and positions are compared, m: many times the scatter of
#: positions, and short enough for a bend to matter little; and the fewest stretches.
_STRETCH_M: Final = 30.0
_FEWEST_STRETCHES: Final = 8
#: Longer stretches in time are not judged, s: between sparse positions a road bends.
_LONGEST_S: Final = 10.0
#: Readings of two instruments that are compared: fewest, and their least speed, m/s.
_FEWEST_READINGS: Final = 3
_SLOWEST_MPS: Final = 5.0
#: A ratio is doubted from 1.22 on (as a logarithm): instruments that are in order differ by some per cent.
_DOUBTED: Final = 0.2
#: Within this (as a logarithm) a ratio is that of two units: of a receiver's or machine's speed, of a shown one, which
#: may lawfully be a tenth and 4 km/h too high (UNECE R39).
_NEAR_MEASURED, _NEAR_SHOWN = 0.1, 0.15
#: The share of the stretches or readings that have the same ratio within the same limit.
_MOST: Final = 0.6


def refuse_contradictions(recording: Recording) -> Recording:
    """Return a recording as it is.

    Raises
    ------
    UnitError
        Its rows follow each other faster than any logger writes, or two of its channels differ by the factor of two
        units.
    """
    _refuse_fast_rows(recording)
    _refuse_against_positions(recording)
    _refuse_against_shown(recording)
    return recording


def _refuse_fast_rows(recording: Recording) -> None:
    time_s = recording.samples["time_s"].to_numpy()
    if recording.kind != "log" or time_s.size < _FEWEST_ROWS:
        return
    step_s = float(time_s[-1] - time_s[0]) / (time_s.size - 1)
    if 0.0 < step_s < 0.999 * _SHORTEST_STEP_S:
        raise UnitError(
            _where(recording, "time_s"),
            f"rows follow every {1000 * step_s:.3g} ms on average, which no logger does; allowed is 1 ms and more",
            "Write the true unit of the times into the header (time_min, time_h or time_s), or thin the log out",
        )


def _refuse_against_positions(recording: Recording) -> None:
    if recording.speed_source not in ("receiver", "machine", "wheel or logger"):
        return
    ratio = _common(_over_distance(recording), _NEAR_MEASURED, _FEWEST_STRETCHES)
    column = _column(recording, "speed_mps")
    if ratio is None or abs(math.log(ratio)) < _DOUBTED or column is None:
        return
    said = f"its speeds are {ratio:.3g} times those that the positions of the same file show"
    stated = "allowed is the unit that the header states" if recording.kind == "log" else "allowed is m/s"
    actual = _other_speed_unit(column.unit, ratio)
    if actual is not None:
        as_if = f"as if they were in {SPEED_UNIT_LABELS[actual]} and not in {column.unit}"
        raise UnitError(_where(recording, "speed_mps"), f"{said}, {as_if}; {stated}", _remedy(recording, actual))
    times = _column(recording, "time_s")
    unit = None if times is None or recording.clock != "elapsed" else _other_time_unit(times.unit, ratio)
    if times is not None and unit is not None:
        as_if = f"as if the times were in {unit} and not in {times.unit}"
        remedy = f"Write time_{unit} as the header"
        raise UnitError(_where(recording, "time_s"), f"{said}, {as_if}; {stated}", remedy)
    factor = _factor_between(ratio)
    which = f", which is the factor from {factor}" if factor else ""
    remedy = _remedy(recording, "kmh or speed_mph")
    raise UnitError(_where(recording, "speed_mps"), f"{said}{which}; allowed is one speed in one file", remedy)


def _remedy(recording: Recording, unit: str) -> str:
    if recording.kind == "log":
        return f"Write speed_{unit} as the header, or take the column out"
    return "Export the track with speeds in m/s, or without, so that they are derived from the positions"


def _factor_between(ratio: float) -> str:
    """Name the two units between which a ratio is the factor: "mph to km/h" for 1.609; "" where it is none."""
    pairs = [(one, other) for one in SPEED_UNITS_MPS for other in SPEED_UNITS_MPS if one != other]
    odds = {pair: abs(math.log(ratio * SPEED_UNITS_MPS[pair[1]] / SPEED_UNITS_MPS[pair[0]])) for pair in pairs}
    best = min(odds, key=lambda pair: odds[pair])
    return f"{SPEED_UNIT_LABELS[best[0]]} to {SPEED_UNIT_LABELS[best[1]]}" if odds[best] < _NEAR_MEASURED / 2 else ""


def _refuse_against_shown(recording: Recording) -> None:
    """Refuse shown and other speeds that differ by the factor of two units."""
    if recording.speed_source in ("speedometer", "none"):
        return
    shown, measured = (recording.samples[name].to_numpy() for name in ("indicated_mps", "speed_mps"))
    both = (shown > _SLOWEST_MPS) & (measured > _SLOWEST_MPS)
    ratio = _common(shown[both] / measured[both], _NEAR_SHOWN, _FEWEST_READINGS)
    columns = [_column(recording, name) for name in ("indicated_mps", "speed_mps")]
    if ratio is None or columns[0] is None or columns[1] is None:
        return
    one = _other_speed_unit(columns[0].unit, ratio, _NEAR_SHOWN)
    other = _other_speed_unit(columns[1].unit, 1 / ratio, _NEAR_SHOWN)
    if one is None and other is None:
        return
    likely = [
        f"{column.header!r} were in {SPEED_UNIT_LABELS[unit]} and not in {column.unit}"
        for column, unit in ((columns[0], one), (columns[1], other))
        if unit is not None
    ]
    raise UnitError(
        f"{recording.file}, columns {columns[0].header!r} and {columns[1].header!r}",
        f"the shown speeds are {ratio:.3g} times the others, as if {' or '.join(likely)}; allowed is the unit that the "
        "header states",
        "Write the true units into the headers",
    )


def _over_distance(recording: Recording) -> Floats:
    """Return, stretch by stretch, the distance that the speeds add up to over that between the positions."""
    s = recording.samples
    time_s, speed, lat, lon = (s[name].to_numpy() for name in ("time_s", "speed_mps", "latitude_deg", "longitude_deg"))
    timed = np.flatnonzero(np.isfinite(speed) & np.isfinite(time_s))
    at = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon) & np.isfinite(time_s))
    if timed.size < 2 or at.size < 2:
        return np.empty(0)
    moved = np.append(True, (np.diff(lat[at]) != 0) | (np.diff(lon[at]) != 0))
    at = at[moved]
    path_m = np.append(0.0, np.cumsum(distance_m(lat[at][:-1], lon[at][:-1], lat[at][1:], lon[at][1:])))
    ends = np.append(0, np.flatnonzero(np.diff(np.floor(path_m / _STRETCH_M)) > 0) + 1)
    first, last = at[ends[:-1]], at[ends[1:]]
    passed_m = np.append(0.0, np.cumsum((speed[timed][1:] + speed[timed][:-1]) / 2 * np.diff(time_s[timed])))
    added_m = np.interp(time_s[last], time_s[timed], passed_m) - np.interp(time_s[first], time_s[timed], passed_m)
    apart_m = distance_m(lat[first], lon[first], lat[last], lon[last])
    pauses = np.append(0, np.cumsum(_pauses(time_s[at])))
    usable = (apart_m > _STRETCH_M / 2) & (added_m > 0) & (np.diff(pauses[ends]) == 0)
    usable &= time_s[last] - time_s[first] <= _LONGEST_S
    return np.asarray(added_m[usable] / apart_m[usable], dtype=np.float64)


def _pauses(time_s: Floats) -> NDArray[np.bool_]:
    steps = np.diff(time_s)
    return steps > PAUSE_INTERVALS * np.median(steps) if steps.size else np.zeros(0, dtype=bool)


def _common(ratios: Floats, near: float, fewest: int) -> float | None:
    """Return the ratio that most have; None where there are too few, or no such one."""
    if ratios.size < fewest:
        return None
    middle = float(np.median(ratios))
    return middle if np.mean(np.abs(np.log(ratios / middle)) < near) >= _MOST else None


def _other_speed_unit(stated: str, ratio: float, near: float = _NEAR_MEASURED) -> str | None:
    """Return the unit in which speeds were written that are `ratio` times the true ones if read in the stated one."""
    key = SPEED_SPELLINGS.get(stated)
    if key is None:
        return None
    odds = {unit: abs(math.log(ratio * si / SPEED_UNITS_MPS[key])) for unit, si in SPEED_UNITS_MPS.items()}
    best = min(odds, key=lambda unit: odds[unit])
    far = abs(math.log(SPEED_UNITS_MPS[best] / SPEED_UNITS_MPS[key])) > _DOUBTED
    return best if far and odds[best] < near else None


def _other_time_unit(stated: str, ratio: float) -> str | None:
    """Return the unit in which times were written, in the same way."""
    seconds = unit_of("time_s", stated.replace(" ", ""))[1]
    for unit in ("h", "min", "s", "ms", "µs"):
        if abs(math.log(ratio * TIME_SPELLINGS[unit] / seconds)) < _NEAR_MEASURED and TIME_SPELLINGS[unit] != seconds:
            return unit
    return None


def _column(recording: Recording, channel: str) -> Column | None:
    return next((column for column in recording.columns if column.channel == channel), None)


def _where(recording: Recording, channel: str) -> str:
    column = _column(recording, channel)
    return recording.file if column is None else f"{recording.file}, column {column.header!r}"
