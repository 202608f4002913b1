"""bike.toml as a form: what a person wrote by hand around the values stays as it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError

from gearfit.errors import BikeFileError, InputError
from gearfit.importers.folder import BIKE_FILE
from gearfit.local_page.machine_fields import FIELDS, Field, text_of, value_of
from gearfit.machine.bike import Bike
from gearfit.machine.bike_file import bike_from
from gearfit.machine.bike_rules import RULES
from gearfit.machine.toml_text import straight

#: Name of a field -> what is wrong with it, in words; "" for what belongs to no field.
Faults = dict[str, str]
_NAME: Final = "name"


def parsed(text: str) -> tomlkit.TOMLDocument:
    """Read the text of a bike.toml.

    Raises
    ------
    InputError
        It is no TOML; the message names line and column.
    """
    try:
        return tomlkit.parse(text)
    except ParseError:
        pass
    try:
        return tomlkit.parse(straight(text))
    except ParseError as error:
        raise InputError(
            f"{BIKE_FILE}, line {error.line}", f"is not valid TOML ({error})", "Mend that line in a text editor"
        ) from None


def texts(document: Mapping[str, Any], setups: tuple[str, ...]) -> dict[str, str]:
    """Return what stands in each field; a setup shows what holds for it, its own value or the machine's."""
    shown = {_NAME: text_of(document.get(_NAME, ""))}
    for field in FIELDS:
        common = _table(document, field.table).get(field.key)
        if not field.per_setup:
            shown[field.name] = "" if common is None else text_of(common)
            continue
        for setup in setups:
            own = _table(_table(document, "setups"), setup).get(field.key, common)
            shown[f"{setup}.{field.name}"] = "" if own is None else text_of(own)
    return shown


def _table(document: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = document.get(name, {})
    return found if isinstance(found, Mapping) else {}


def fill_in(
    document: tomlkit.TOMLDocument, setups: tuple[str, ...], written: Mapping[str, str]
) -> tuple[Bike | None, Faults]:
    """Put what was written into the document, and check it as the command line does.

    Returns
    -------
    (Bike or None, dict)
        The machine, or what is wrong at which field.
    """
    before = texts(document, setups)
    changed = [name for name in before if written.get(name, before[name]).strip() != before[name]]
    faults: Faults = {}
    try:
        if changed:
            for setup in setups:
                _section(_section(document, "setups"), setup)
        if _NAME in changed:
            _set(document, _NAME, written[_NAME].strip() or None)
        for field in FIELDS:
            for name, setup in _names(field, setups):
                if name in changed:
                    faults |= _put(document, field, setup, setups, name, written[name].strip())
    except TOMLKitError as error:
        return None, {"": f"{BIKE_FILE} cannot be changed here ({error})"}
    if faults:
        return None, faults
    try:
        return bike_from(document.unwrap(), BIKE_FILE), {}
    except BikeFileError as error:
        return None, {_field_of(error, setups, changed): f"{error.problem}. {error.remedy}."}


def _names(field: Field, setups: tuple[str, ...]) -> list[tuple[str, str]]:
    if not field.per_setup:
        return [(field.name, "")]
    return [(f"{setup}.{field.name}", setup) for setup in setups]


def _put(
    document: tomlkit.TOMLDocument, field: Field, setup: str, setups: tuple[str, ...], name: str, text: str
) -> Faults:
    value = value_of(field, text) if text else None
    if value is not None:
        try:
            RULES[field.table][field.key](value)
        except ValueError as error:
            return {name: str(error)}
    common = _table(document, field.table).get(field.key)
    if not setup:
        _set(_section(document, field.table), field.key, value)
    elif setup == setups[0] and field.key not in _table(_table(document, "setups"), setup):
        # What the other setups had from the machine stays theirs.
        for other in setups[1:]:
            own = _section(_section(document, "setups"), other)
            if common is not None and field.key not in own:
                _set(own, field.key, common)
        _set(_section(document, field.table), field.key, value)
    else:
        own = _section(_section(document, "setups"), setup)
        _set(own, field.key, None if value == common else value)
    return {}


def _section(document: Any, name: str) -> Any:  # noqa: ANN401 - a table of tomlkit
    if name not in document:
        document[name] = tomlkit.table(is_super_table=name == "setups")
    return document[name]


def _set(table: Any, key: str, value: object) -> None:  # noqa: ANN401 - a table of tomlkit
    if value is None:
        table.pop(key, None)
    else:
        table[key] = value


def _field_of(error: BikeFileError, setups: tuple[str, ...], changed: list[str]) -> str:
    """Return the field that a message of the whole file is about, of several one that was changed; "" for none."""
    place = error.where.partition(", ")[2]
    key = [n for field in FIELDS for n, s in _names(field, setups) if place in (field.name, f"setups.{s}.{field.key}")]
    table = [n for field in FIELDS for n, s in _names(field, setups) if place in (field.table, f"setups.{s}")]
    found = key or sorted(table, key=lambda name: name not in changed)
    return found[0] if found else ""
