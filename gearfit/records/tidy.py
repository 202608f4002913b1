"""Records as a table: one row a record, one column a number, the unit in its name."""

from __future__ import annotations

import types
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any, Literal, Union, get_args, get_origin, get_type_hints

from gearfit.records.estimate import Estimate

if TYPE_CHECKING:
    import pandas as pd

#: Row of a table: what stands before the record's own columns, and the record.
Row = tuple[Mapping[str, object], Any]


def tidy_frame(kind: type, rows: Iterable[Row], before: Iterable[str] = ()) -> pd.DataFrame:
    """Make a table of records.

    Parameters
    ----------
    kind : type
        The dataclass of the records; columns follow its fields, also where there are no rows.
    rows : iterable of (mapping, record)
        What stands before each record's own columns, and the record.
    before : iterable of str
        Names of the columns that stand before.

    Returns
    -------
    pandas.DataFrame
        An `Estimate` called x becomes x, x_se, x_lo95 and x_hi95; a record x within becomes x_ and its fields; a tuple
        of numbers becomes a text. Fields that are tables, arrays or lists of records are left out. What the data
        cannot say is missing (NaN or None).
    """
    import pandas as pd

    columns = [*before, *_columns(kind)]
    made = [{**constants, **_cells(kind, record)} for constants, record in rows]
    return pd.DataFrame(made, columns=columns)


def _columns(kind: type) -> list[str]:
    return [name for name, part in _parts(kind) for name in _names(name, part)]


def _names(name: str, part: object) -> list[str]:
    if part is Estimate:
        return [name, *(f"{name}_{end}" for end in ("se", "lo95", "hi95"))]
    if isinstance(part, type) and is_dataclass(part):
        return [f"{name}_{inner}" for inner in _columns(part)]
    return [name]


def _cells(kind: type, record: object) -> dict[str, object]:
    cells: dict[str, object] = {}
    for name, part in _parts(kind):
        value = getattr(record, name)
        if part is Estimate:
            ends = (None,) * 4 if value is None else (value.value, value.se, value.lo95, value.hi95)
            cells |= dict(zip(_names(name, part), ends, strict=True))
        elif isinstance(part, type) and is_dataclass(part):
            cells |= (
                {f"{name}_{inner}": cell for inner, cell in _cells(part, value).items()} if value is not None else {}
            )
        else:
            cells[name] = " ".join(map(str, value)) if isinstance(value, tuple) else value
    return cells


def _parts(kind: type) -> list[tuple[str, object]]:
    """Return the fields that fit into cells, each with its type, `None` put aside."""
    hints = get_type_hints(kind)
    parts = [(field.name, _without_none(hints[field.name])) for field in fields(kind)]
    return [(name, part) for name, part in parts if _fits(part)]


def _without_none(hint: object) -> object:
    if get_origin(hint) in (Union, types.UnionType):
        rest = [part for part in get_args(hint) if part is not type(None)]
        return rest[0] if len(rest) == 1 else hint
    return hint


def _fits(part: object) -> bool:
    if get_origin(part) is Literal or part in (bool, int, float, str):
        return True
    if get_origin(part) is tuple:
        return get_args(part)[0] in (int, float)
    return isinstance(part, type) and is_dataclass(part)
