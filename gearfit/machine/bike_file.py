"""Reads bike.toml, the machine as specified. The rules for its values are in `gearfit.machine.bike_rules`."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from gearfit.errors import BikeFileError
from gearfit.machine.bike import (
    Balance,
    Bike,
    ColumnNames,
    Conditions,
    Engine,
    FinalDrive,
    Gearbox,
    Motion,
    Setup,
    SpeedometerSpec,
    Tyre,
    Wish,
)
from gearfit.machine.bike_rules import (
    CIRCUMFERENCE_TOLERANCE,
    COLUMN_HEADERS,
    OVERRIDES,
    REPLACES,
    RULES,
    Rule,
    chain_pitch_mm,
    setup_name,
    shown,
)
from gearfit.machine.toml_text import parsed
from gearfit.machine.tyre import nominal_circumference_m

Table = dict[str, Any]

#: No wheels are more than this share of the whole mass at the tread (UN GTR 2 lets 4 % be assumed).
_MOST_ROTATING: Final = 0.2


def read_bike(path: str | Path) -> Bike:
    """Read the machine from a bike.toml; every key is optional.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.

    Returns
    -------
    Bike
        What the file states; `pitch_mm` is filled in from the chain's code. Setups in the order of the file, each
        with its overrides applied to the machine's own final drive and tyre.

    Raises
    ------
    BikeFileError
        The file cannot be read, is no TOML, or holds an unknown key, a wrong type or an impossible value. The
        message names the file, the key, what was found and what is allowed.
    """
    return bike_from(parsed(Path(path)), Path(path).name)


def bike_from(document: Mapping[str, Any], file: str) -> Bike:
    """Return the machine that the tables of a bike.toml state, as `read_bike`; `file` is named in messages."""
    document = dict(document)
    setups = document.pop("setups", {})
    _refuse_unknown(file, "", document, (*RULES[""], *(name for name in RULES if name), "setups"))
    own = {
        name: _checked(file, name, _table(file, name, document.get(name, {})), RULES[name]) for name in RULES if name
    }
    top = _checked(file, "", {key: document[key] for key in RULES[""] if key in document}, RULES[""])
    parts = {**own["final_drive"], **own["tyre"], **own["conditions"], "same_clock": top.get("same_clock", False)}
    return Bike(
        name=top.get("name", ""),
        engine=_engine(file, Engine(**own["engine"])),
        gearbox=Gearbox(**own["gearbox"]),
        final_drive=_final_drive(file, "final_drive", parts),
        tyre=_tyre(file, "tyre", parts),
        speedometer=_speedometer(file, SpeedometerSpec(**own["speedometer"])),
        columns=_columns(file, ColumnNames(**own["columns"])),
        total_kg=own["mass"].get("total_kg"),
        setups=_setups(file, setups, parts),
        balance=_balance(file, Balance(**{key: value for key, value in own["mass"].items() if key != "total_kg"})),
        wish=_wish(file, Wish(**own["wish"])),
        conditions=_conditions(parts),
        motion=_motion(file, Motion(**own["motion"]), own["mass"]),
        same_clock=parts["same_clock"],
    )


def _engine(file: str, engine: Engine) -> Engine:
    if engine.firing is None:
        return engine
    if engine.strokes is not None and abs(sum(engine.firing) - engine.cycle_degrees) >= 1:
        raise _impossible(
            file,
            "engine.firing",
            f"found angles that make {sum(engine.firing):g} degrees with strokes = {engine.strokes}; allowed are "
            f"angles that make {engine.cycle_degrees:g}",
        )
    if engine.cylinders is not None and len(engine.firing) > engine.cylinders:
        raise _impossible(
            file,
            "engine.firing",
            f"found {len(engine.firing)} angles with cylinders = {engine.cylinders}; allowed is one for each cylinder, "
            "or fewer where cylinders fire together",
        )
    return engine


def _speedometer(file: str, dash: SpeedometerSpec) -> SpeedometerSpec:
    if dash.indicated_step_kmh is not None and dash.indicated_step_mph is not None:
        raise _impossible(
            file,
            "speedometer",
            "found indicated_step_kmh and indicated_step_mph; allowed is one of the two, in the unit of the dash",
        )
    return dash


def _columns(file: str, columns: ColumnNames) -> ColumnNames:
    named: dict[str, str] = {}
    for key in COLUMN_HEADERS:
        header = getattr(columns, key)
        if header is not None and named.setdefault(header.casefold(), key) != key:
            raise _impossible(
                file,
                f"columns.{key}",
                f"found the header {shown(header)}, which stands for {named[header.casefold()]} too; allowed is one "
                "header for each",
            )
    return columns


def _table(file: str, name: str, found: object) -> Table:
    if not isinstance(found, dict):
        raise BikeFileError(
            f"{file}, {name}",
            f"found {shown(found)}; allowed is a table",
            f"Write [{name}] on a line of its own, and its keys below",
        )
    return found


def _checked(file: str, name: str, found: Table, rules: Mapping[str, Rule]) -> Table:
    _refuse_unknown(file, name, found, rules)
    checked: Table = {}
    for key, value in found.items():
        try:
            checked[key] = rules[key](value)
        except ValueError as error:
            raise _impossible(file, _dotted(name, key), str(error)) from None
    return checked


def _impossible(file: str, key: str, problem: str) -> BikeFileError:
    return BikeFileError(f"{file}, {key}", problem, "Correct the value or leave the key out")


def _dotted(name: str, key: str) -> str:
    return f"{name}.{key}" if name else key


def _refuse_unknown(file: str, name: str, found: Iterable[str], known: Iterable[str]) -> None:
    known = tuple(known)
    for key in found:
        if key in known:
            continue
        elsewhere = [_dotted(table, key) for table, rules in RULES.items() if key in rules]
        likely = elsewhere or difflib.get_close_matches(key.lower(), known, n=1)
        hint = f" (did you mean {likely[0]!r}?)" if likely else ""
        raise BikeFileError(
            f"{file}, {_dotted(name, key)}",
            f"unknown key{hint}; allowed are {', '.join(known)}",
            "Correct the spelling or remove the key",
        )


def _setups(file: str, found: object, parts: Table) -> tuple[Setup, ...]:
    tables = _table(file, "setups", found)
    setups: list[Setup] = []
    for name in tables:
        key = f"setups.{name}"
        try:
            setup_name(name)
        except ValueError as error:
            raise BikeFileError(f"{file}, {key}", str(error), "Rename the setup and its folder") from None
        if name.lower() in (setup.name.lower() for setup in setups):
            raise BikeFileError(
                f"{file}, {key}",
                "found two names that differ only in capitals; allowed are names that differ in more",
                "Rename one setup and its folder",
            )
        stated = _checked(file, key, _table(file, key, tables[name]), OVERRIDES)
        merged = _inherited(parts, stated) | stated
        fitted = _final_drive(file, key, merged), _tyre(file, key, merged)
        setups.append(Setup(name, *fitted, _conditions(merged), merged["same_clock"]))
    return tuple(setups)


def _inherited(parts: Table, stated: Table) -> Table:
    changed = [key for key in REPLACES if key in stated and stated[key] != parts.get(key)]
    dropped = {old for key in changed for old in REPLACES[key]}
    return {key: value for key, value in parts.items() if key not in dropped}


def _final_drive(file: str, name: str, parts: Table) -> FinalDrive:
    drive = FinalDrive(**{key: value for key, value in parts.items() if key in RULES["final_drive"]})
    if drive.chain and drive.kind != "chain":
        raise _impossible(file, name, f'found kind = "{drive.kind}" with a chain; allowed is one of the two')
    pitch_mm = chain_pitch_mm(drive.chain) if drive.chain else drive.pitch_mm
    if pitch_mm and drive.pitch_mm and abs(pitch_mm - drive.pitch_mm) > 0.01:
        raise _impossible(
            file,
            name,
            f'found chain = "{drive.chain}", whose pitch is {pitch_mm:g} mm, with pitch_mm = {drive.pitch_mm:g}; '
            "allowed is one of the two, or both alike",
        )
    if drive.front and drive.rear and drive.rear < drive.front:
        raise _impossible(
            file,
            name,
            f"found front = {drive.front} and rear = {drive.rear}; allowed is a wheel sprocket (rear) with at least "
            "as many teeth as the gearbox sprocket (front)",
        )
    if drive.adjuster_mm and drive.axle_at_mm is not None:
        low, high = drive.adjuster_mm
        if not low <= drive.axle_at_mm <= high:
            raise _impossible(
                file,
                name,
                f"found axle_at_mm = {drive.axle_at_mm:g}; allowed is a place on the adjuster, {low:g} to {high:g} mm",
            )
    return replace(drive, pitch_mm=pitch_mm)


def _tyre(file: str, name: str, parts: Table) -> Tyre:
    tyre = Tyre(**{key: value for key, value in parts.items() if key in RULES["tyre"]})
    if tyre.rolling_circumference_sd_mm and not tyre.rolling_circumference_mm:
        raise _impossible(
            file, name, "found rolling_circumference_sd_mm alone; allowed is only with rolling_circumference_mm"
        )
    if tyre.size and tyre.rolling_circumference_mm:
        expected_mm = 1000 * nominal_circumference_m(tyre.size)
        if abs(tyre.rolling_circumference_mm / expected_mm - 1) > CIRCUMFERENCE_TOLERANCE:
            raise _impossible(
                file,
                name,
                f"found rolling_circumference_mm = {tyre.rolling_circumference_mm:g}, but size {tyre.size} leads one "
                f"to expect about {expected_mm:.0f} mm; allowed is a difference of {CIRCUMFERENCE_TOLERANCE:.0%}",
            )
    return tyre


def _conditions(parts: Table) -> Conditions:
    return Conditions(**{key: value for key, value in parts.items() if key in RULES["conditions"]})


def _balance(file: str, balance: Balance) -> Balance:
    wheelbase_mm, to_rear_mm = balance.wheelbase_mm, balance.cg_to_rear_mm
    if wheelbase_mm is not None and to_rear_mm is not None and to_rear_mm >= wheelbase_mm:
        raise _impossible(
            file,
            "mass",
            f"found cg_to_rear_mm = {to_rear_mm:g} and wheelbase_mm = {wheelbase_mm:g}; allowed is a centre of gravity "
            "between the axles",
        )
    return balance


def _motion(file: str, motion: Motion, mass: Table) -> Motion:
    total_kg = mass.get("total_kg")
    if total_kg is not None and motion.rotating_kg is not None and motion.rotating_kg > _MOST_ROTATING * total_kg:
        raise _impossible(
            file,
            "motion.rotating_kg",
            f"found {motion.rotating_kg:g} with total_kg = {total_kg:g}; allowed are up to {100 * _MOST_ROTATING:.0f} "
            "% of the whole mass",
        )
    return motion


def _wish(file: str, wish: Wish) -> Wish:
    if (wish.cruise_kmh is None) != (wish.at_rpm is None):
        alone = "at_rpm" if wish.cruise_kmh is None else "cruise_kmh"
        raise _impossible(file, "wish", f"found {alone} alone; allowed are cruise_kmh and at_rpm together")
    return wish
