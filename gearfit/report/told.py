"""Points of a picture about which the page's script tells values: where they lie, and what is said of each."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

#: Points of one picture that the page carries; of more, every so many.
MOST: Final = 1500
#: Places are whole parts of the picture's width and height.
SHARES: Final = 10_000
#: Stands for a point beyond the edges of its panel.
_NOWHERE: Final = -1

Value = float | int | str | None


@dataclass(frozen=True)
class Part:
    """A part of the sentence about a point; left out where one of its values is None.

    Attributes
    ----------
    words : str
        With a place for each column: `{}` for a whole number or a text, `{1}` and `{2}` with that many decimals,
        `{speed}` from m/s into the unit chosen, `{sloth}` from rev/min per m/s into rpm per that unit, `{gear}` 0 as
        "left out".
    columns : tuple
        Each a list with one value a point, or the one value that holds for all.
    """

    words: str
    columns: tuple[list[Value] | Value, ...]


@dataclass(frozen=True, eq=False)
class Told:
    """Points of one panel that belong together.

    Attributes
    ----------
    panel : int
        Place of the panel among the axes of the figure.
    name : str
        What all the points are of, said first.
    x, y : (n,) float
        Place of each point as the panel draws it.
    parts : tuple of Part
        What is said of each.
    level : bool
        Whether a pointer finds a point by its horizontal place alone, as it does a column.
    """

    panel: int
    name: str
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    parts: tuple[Part, ...]
    level: bool = False


def every(n: int, most: int = MOST) -> slice:
    """Return the slice that leaves at most `most` of `n` points, evenly spread."""
    return slice(None, None, max(-(-n // most), 1))


def column(values: ArrayLike, decimals: int = 0) -> list[Value]:
    """Return values for a `Part`, rounded; None where there is none."""
    numbers = np.round(np.asarray(values, dtype=np.float64), decimals) + 0.0
    return [None if not np.isfinite(v) else int(v) if v == int(v) else float(v) for v in numbers.tolist()]


def places(figure: Figure, told: Sequence[Told]) -> str:
    """Return as JSON where the points lie in the picture, once it was laid out: x, y, x, y, ... of each `Told`."""
    width, height = figure.bbox.width, figure.bbox.height
    found = []
    for points in told:
        ax = figure.axes[points.panel]
        pixels = ax.transData.transform(np.column_stack([points.x, points.y]))
        box = ax.get_window_extent().padded(1.0)
        with np.errstate(invalid="ignore"):
            seen = np.all((pixels >= box.min) & (pixels <= box.max), axis=1, keepdims=True)
        shares = np.where(seen, SHARES * (pixels / (width, height) * (1, -1) + (0, 1)), _NOWHERE)
        flat: list[int] = np.round(shares).astype(np.int64).ravel().tolist()
        found.append(flat)
    return json.dumps(found, separators=(",", ":"))


def sentences_json(told: dict[str, Sequence[Told]]) -> str:
    """Return what is said of the points, picture by picture, as JSON that may stand within a page."""
    content = {
        name: [
            {
                "name": points.name,
                "points": int(points.x.size),
                "level": points.level,
                "parts": [[part.words, *part.columns] for part in points.parts],
            }
            for points in each
        ]
        for name, each in told.items()
        if each
    }
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c")
