"""One and the same ride written in two ways."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from gearfit.units import SPEED_UNITS_MPS
from tests.odd_folders import logs, sheets
from tests.odd_folders.folders import Files
from tests.odd_folders.machines import SETUPS, Machine, Ride, draw_machine, held, ridden
from tests.odd_folders.papers import right, toml
from tests.odd_folders.sheets import Style

#: How two reports have to agree: in every number; as nearly as the lag is sought; in the change with its interval
#: inverted; within their intervals.
SAME, CLOSE, INVERTED, NEAR = "same", "close", "inverted", "near"
HOUR_S: Final = 3600.0
PLAIN: Final = Style(decimals=2)


@dataclass(frozen=True)
class Pair:
    """Two folders and how their reports have to agree."""

    spelling: str
    one: Files
    other: Files
    agree: str = SAME


@dataclass(frozen=True)
class _Case:
    """What was ridden, before and after, and the way in which it is written."""

    machine: Machine
    rides: tuple[Ride, Ride]
    times: tuple[tuple[float, ...], tuple[float, ...]]
    papers: str
    timed_log: bool
    style: Style = PLAIN
    name: str = "readings.csv"
    shift_s: float = 0.0
    absolute: bool = False
    parts: int = 1

    def files(self, names: tuple[str, str] = SETUPS) -> dict[str, bytes]:
        """Write the folder; `names` tells which setup each ride is."""
        found = {} if not self.papers else {"bike.toml": _papers(self.machine, self.papers, names).encode()}
        for which, (setup, ride) in enumerate(zip(names, self.rides, strict=True)):
            for part, rows in enumerate(self._split(ride)):
                found[f"{setup}/{part if self.parts > 1 else ''}{self.name}"] = self._written(rows, which)
            if self.times[which]:
                found[f"{setup}/runs.csv"] = self._runs(self.times[which])
        return found

    def _split(self, ride: Ride) -> list[Ride]:
        if self.parts == 1:
            return [ride]
        middle = ride.gear.size // 2
        if self.timed_log:
            still = np.flatnonzero(ride.gear == 0)
            middle = int(still[np.argmin(np.abs(still - middle))])
        return [_rows(ride, np.arange(middle)), _rows(ride, np.arange(middle, ride.gear.size))]

    def _written(self, ride: Ride, which: int) -> bytes:
        if not self.timed_log:
            return sheets.readings(ride, self.style)
        return logs.text_log(ride, self.style, absolute=self.absolute, shift_s=self.shift_s + 24 * HOUR_S * which)

    def _runs(self, times: tuple[float, ...]) -> bytes:
        unit = SPEED_UNITS_MPS["kmh"] / SPEED_UNITS_MPS[self.style.unit]
        ends = (f"from_{self.style.unit}", f"to_{self.style.unit}")
        low, high = ([sheets.number(self.style, kmh * unit, None)] * len(times) for kmh in (60.0, 100.0))
        took = [sheets.number(self.style, time, 2) for time in times]
        return sheets.table(self.style, {ends[0]: low, ends[1]: high, "time_s": took})


def _rows(ride: Ride, rows: np.ndarray) -> Ride:
    return Ride(ride.time_s[rows], ride.gear[rows], ride.rpm[rows], ride.speed_mps[rows])


def _papers(machine: Machine, kind: str, names: tuple[str, str]) -> str:
    tables = right(machine)
    if kind == "sprockets":
        del tables["gearbox"], tables["tyre"]
    drives = [tables.pop(f"setups.{name}") for name in SETUPS]
    order = sorted(zip(names, drives, strict=True), key=lambda item: SETUPS.index(item[0]))
    return toml({**tables, **{f"setups.{name}": drive for name, drive in order}})


def pair(seed: int) -> Pair:
    """Make the two folders of a seed."""
    rng = np.random.default_rng([43, seed])
    machine = draw_machine(rng)
    timed_log = bool(rng.random() < 0.35)
    scatter = float(rng.choice([0.002, 0.005, 0.01]))
    rides = [
        ridden(rng, machine, which, 5, 240) if timed_log else held(rng, machine, which, scatter) for which in (0, 1)
    ]
    times = [tuple(float(x) for x in 6 + 0.3 * rng.normal(size=int(rng.choice([0, 1, 5])))) for _ in SETUPS]
    case = _Case(
        machine,
        (rides[0], rides[1]),
        (times[0], times[1]),
        str(rng.choice(["", "all", "sprockets"])),
        timed_log,
        absolute=bool(rng.random() < 0.5),
    )
    if not timed_log and rng.random() < 0.25:
        case = replace(case, style=replace(case.style, gear_form=""))
    spelling = str(rng.choice(list(_SPELLINGS)))
    return _SPELLINGS[spelling](rng, case, spelling)


def _styled(**changes: object) -> Callable[[np.random.Generator, _Case, str], Pair]:
    def spelled(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
        style = replace(case.style, **changes)  # type: ignore[arg-type]
        return Pair(spelling, case.files(), replace(case, style=style).files())

    return spelled


def _gear_form(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    if not case.style.gear_form:
        return _styled(newline="\r\n")(rng, case, spelling)
    form = str(rng.choice(sheets.GEAR_FORMS[1:]))
    return _styled(gear_form=form)(rng, case, f"{spelling} {form}")


def _unit(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    one = replace(case, style=replace(case.style, decimals=None))
    unit = str(rng.choice(sheets.UNITS[1:]))
    return Pair(f"{spelling} {unit}", one.files(), replace(one, style=replace(one.style, unit=unit)).files())


def _column_order(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    return _styled(order=int(rng.integers(1, 24)))(rng, case, spelling)


def _row_order(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    times = tuple(tuple(reversed(one)) for one in case.times)
    rides = case.rides
    if not case.timed_log:
        rides = tuple(_rows(ride, rng.permutation(ride.gear.size)) for ride in rides)  # type: ignore[assignment]
    return Pair(spelling, case.files(), replace(case, rides=rides, times=(times[0], times[1])).files())


def _two_files(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    if min(ride.gear.size for ride in case.rides) < 4:
        return _file_names(rng, case, spelling)
    # Lag and noise are found for each log anew.
    return Pair(spelling, case.files(), replace(case, parts=2).files(), NEAR if case.timed_log else SAME)


def _file_names(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    name = str(rng.choice(["zz", "Sunday ride (2).txt", "été.tsv", "0.gpx"]))
    return Pair(f"{spelling} {name}", case.files(), replace(case, name=name).files())


def _shift(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    hours = float(rng.choice([1, 5, 48, 1000]))
    return Pair(spelling, case.files(), replace(case, shift_s=hours * HOUR_S).files(), CLOSE)


def _exchanged(rng: np.random.Generator, case: _Case, spelling: str) -> Pair:
    return Pair(spelling, case.files(), case.files(("after", "before")), INVERTED)


_SPELLINGS: Final[dict[str, Callable[[np.random.Generator, _Case, str], Pair]]] = {
    "gear": _gear_form,
    "unit": _unit,
    "semicolons": _styled(delimiter=";"),
    "tabs": _styled(delimiter="\t"),
    "decimal commas": _styled(delimiter=";", comma=True),
    "line ends": _styled(newline="\r\n"),
    "byte-order mark": _styled(encoding="utf-8-sig"),
    "utf-16": _styled(encoding="utf-16"),
    "column order": _column_order,
    "row order": _row_order,
    "remarks": _styled(remarks=True),
    "two files": _two_files,
    "file names": _file_names,
    "hours later": _shift,
    "exchanged": _exchanged,
}
