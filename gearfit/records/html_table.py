"""Tables and lines in HTML for notebooks; every text is escaped."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

from gearfit.records.estimate import Estimate


def estimate_text(estimate: Estimate | None, decimals: int, unit: str = "") -> str:
    """Write a value with its 95 % interval."""
    if estimate is None or not math.isfinite(estimate.value):
        return "–"
    value, low, high = (f"{x:.{decimals}f}" for x in (estimate.value, estimate.lo95, estimate.hi95))
    return f"{value}{unit and ' ' + unit} ({low} to {high})"


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table; None shows as a dash."""
    top = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape('–' if cell is None else str(cell))}</td>" for cell in row) + "</tr>"
        for row in rows
    )
    return f"<table><caption>{escape(caption)}</caption><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def lines(title: str, texts: Iterable[str]) -> str:
    """Return a heading and a list."""
    return f"<h4>{escape(title)}</h4><ul>{''.join(f'<li>{escape(text)}</li>' for text in texts)}</ul>"
