"""Columns of plain numbers, the fast way."""

from __future__ import annotations

import io
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Between cells, where a table is made for the reader: a character that no text holds.
SEPARATOR: Final = "\x01"
#: Letters of a cell up to which it has no more than 15 digits.
_EXACT_LETTERS: Final = 15


def plain_numbers(texts: list[str]) -> NDArray[np.float64] | None:
    """Read texts of which each is a number with a decimal point; None where one is anything else.

    `float` also takes digits of other scripts and underscores between digits, which no log means as numbers.
    """
    joined = "".join(texts)
    if not joined.isascii() or "_" in joined:
        return None
    try:
        return np.fromiter(map(float, texts), np.float64, len(texts))
    except ValueError:
        return None


def read_floats(
    data: bytes, columns: dict[int, int], width: int, separator: str = SEPARATOR, decimal: str = "."
) -> dict[int, Floats] | None:
    """Read columns of a table of bytes as numbers, each the floating point number nearest to what is written.

    The reader of the library does so up to 15 digits without an exponent, as it then divides one exact number by
    another; other columns go through `plain_numbers`.

    Parameters
    ----------
    data : bytes
        Rows that end with a line feed and all have the same number of cells, none of them quoted.
    columns : dict
        Number of a column (from 0) -> letters of its longest cell.
    width : int
        Cells in a row.
    separator, decimal : str
        What stands between cells, and before decimals.

    Returns
    -------
    dict or None
        Columns by number, NaN where a cell is empty; None where one holds anything but finite numbers.
    """
    simple = b"e" not in data and b"E" not in data
    short = {column for column, longest in columns.items() if longest <= _EXACT_LETTERS and simple}
    try:
        table = pd.read_csv(
            io.BytesIO(data),
            sep=separator,
            decimal=decimal,
            header=None,
            names=list(range(width)),
            usecols=sorted(columns),
            index_col=False,
            dtype={column: "float64" if column in short else "str" for column in columns},
            keep_default_na=False,
            na_values=[""],
            quoting=3,
            skip_blank_lines=False,
        )
    except ValueError:
        return None
    found: dict[int, Floats] = {}
    for column in columns:
        values = table[column].to_numpy() if column in short else plain_numbers(table[column].fillna("nan").tolist())
        if values is None or np.isinf(values).any():
            return None
        found[column] = values
    return found
