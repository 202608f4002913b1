"""Numbers out of text cells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError, UnitError
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.plain_numbers import plain_numbers
from gearfit.importers.common.quoting import quoted, shortened
from gearfit.importers.common.thousands import NO_ENGINE_RPM, parted
from gearfit.importers.common.written_step import written_step

Floats = NDArray[np.float64]

#: Words that stand for "no value".
_MISSING: Final = frozenset(("", "-", "--", "---", "na", "n/a", "nan", "null", "none", "?"))
_COMMA_NUMBER: Final = r"[+-]?[0-9]*,[0-9]+"
#: An engine that runs turns faster than this, rev/min; a column that never does is in another unit. Half of the slowest
#: idle speeds (common practice, no source).
_SLOWEST_ENGINE_RPM: Final = 300.0


@dataclass(frozen=True, eq=False)
class Numbers:
    """One column read: values in SI (NaN where missing), the step as written (in SI, None unknown) and notes."""

    values: Floats
    step: float | None
    notes: tuple[str, ...]


def missing(cells: pd.Series[str]) -> NDArray[np.bool_]:
    """Whether a cell holds no value."""
    return cells.str.lower().isin(_MISSING).to_numpy(dtype=bool)


def parse(cells: pd.Series[str]) -> Floats:
    """Read cells as numbers with decimal point or, where no cell has a point, decimal comma; NaN where not a number."""
    values = plain_numbers(cells.tolist())
    if values is None:
        values = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    wrong = np.isnan(values)
    if wrong.any():
        comma = cells[wrong].str.fullmatch(_COMMA_NUMBER).to_numpy(dtype=bool)
        if comma.any() and not cells[~wrong].str.contains(".", regex=False).any():
            values = values.copy()
            where = np.flatnonzero(wrong)[comma]
            values[where] = pd.to_numeric(cells.iloc[where].str.replace(",", ".", regex=False)).to_numpy(np.float64)
    return np.where(np.isfinite(values), values, np.nan)


def read_numbers(
    cells: pd.Series[str],
    lines: NDArray[np.int64],
    name: str,
    meaning: Meaning,
    lowest: float,
    highest: float,
    needed: bool = True,
) -> Numbers:
    """Read one column.

    Parameters
    ----------
    cells : pandas.Series of str
        Cells as written.
    lines : numpy.ndarray
        Line of the file of each cell.
    name : str
        Name of the file, for messages.
    meaning : Meaning
        What the header says; its factor converts to SI.
    lowest, highest : float
        Values allowed, in SI.
    needed : bool
        Whether a column that is mostly unusable is an error; otherwise it is left out with a note.

    Raises
    ------
    LogError
        More than half of the filled cells hold no usable number.
    UnitError
        Engine speeds so low that they must be in thousands.
    """
    empty = missing(cells)
    written = parse(cells)
    written[empty] = np.nan
    notes: list[str] = []
    if meaning.channel == "engine_rpm" and meaning.factor == 1.0 and may_be_parted(written[~empty]):
        written, notes = _without_separators(cells.tolist(), written, meaning.header)
    values = written * meaning.factor
    no_number = ~empty & np.isnan(values)
    outside = (values < lowest) | (values > highest)
    values[outside] = np.nan
    kept = int(np.isfinite(values).sum())
    unit = meaning.unit or ""
    allowed = f"{lowest / meaning.factor:.6g} to {highest / meaning.factor:.6g} {unit}".rstrip()
    notes += _notes(cells, lines, meaning.header, no_number, lambda text: f"{quoted(text)} is no number", kept)
    notes += _notes(cells, lines, meaning.header, outside, lambda text: f"{shortened(text)} is outside {allowed}", kept)
    if needed and (no_number | outside).sum() > (~empty).sum() / 2:
        first = int(np.flatnonzero(no_number | outside)[0])
        raise LogError(
            f"{name}, line {lines[first]}, column {meaning.header!r}",
            f"{quoted(cells.iloc[first])} and {int((no_number | outside).sum()) - 1} more of {int((~empty).sum())} "
            f"cells hold no usable number; allowed is {allowed}",
            "Correct the column or its header",
        )
    refuse_thousands(values, name, meaning)
    step = written_step(written[np.isfinite(values)])
    return Numbers(values, None if step is None else step * meaning.factor, tuple(notes))


def may_be_parted(written: Floats) -> bool:
    """Whether engine speeds hold one so small that it may be thousands with a separator, or one that is no number."""
    return bool((np.isnan(written) | ((written > 0) & (written < NO_ENGINE_RPM))).any())


def _without_separators(texts: list[str], written: Floats, header: str) -> tuple[Floats, list[str]]:
    """Read engine speeds anew without their separators for thousands, where there are such."""
    found = parted(texts)
    if not found:
        return written, []
    written = written.copy()
    for place, text in found.items():
        written[place] = float(text)
    first = texts[next(iter(found))]
    how_many = f"{len(found)} values" if len(found) > 1 else "1 value"
    return written, [f"Column {header!r}: {how_many} read as thousands (the first is {quoted(first)})."]


def _notes(
    cells: pd.Series[str],
    lines: NDArray[np.int64],
    header: str,
    wrong: NDArray[np.bool_],
    say: Callable[[str], str],
    kept: int,
) -> list[str]:
    count = int(wrong.sum())
    if not count:
        return []
    first = int(np.flatnonzero(wrong)[0])
    more = "" if count == 1 else f", and {count - 1} more such"
    return [
        f"Line {lines[first]}, column {header!r}: {say(cells.iloc[first])}{more}; "
        f"left out, {kept} other values of the column kept."
    ]


def refuse_thousands(values: Floats, name: str, meaning: Meaning) -> None:
    """Refuse engine speeds that must be in thousands.

    Raises
    ------
    UnitError
        The highest is no speed of a running engine.
    """
    if meaning.channel != "engine_rpm" or not np.isfinite(values).any():
        return
    top = float(np.nanmax(values))
    if 0.0 < top < _SLOWEST_ENGINE_RPM:
        raise UnitError(
            f"{name}, column {meaning.header!r}",
            f"the highest engine speed is {top:g} rpm, which is no running engine",
            "Write rpm_x1000, rpm_x100, rpm_hz (turns a second) or rpm_rad/s as the header where the values are that, "
            "or write the numbers without a separator for thousands (5000)",
        )
