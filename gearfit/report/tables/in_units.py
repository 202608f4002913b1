"""Words of the page in both units of speed; the page shows those of the unit that is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from markupsafe import Markup, escape

from gearfit.records.results import Analysis
from gearfit.report.tables.cells import Cell, Table

UNITS: Final = ("kmh", "mph")
#: The same analysis in km/h and in mph.
InUnits = tuple[Analysis, Analysis]


def in_units(analysis: Analysis) -> InUnits:
    """Return the analysis in km/h and in mph; findings keep their words where they were not restated."""
    other = UNITS[1 - UNITS.index(analysis.speed_unit)]
    restated = analysis.restated or replace(analysis, speed_unit=other)
    return (analysis, restated) if analysis.speed_unit == UNITS[0] else (restated, analysis)


def say(kmh: str, mph: str) -> Markup:
    """Return a text for both units, escaped; once where both are the same."""
    if kmh == mph:
        return escape(kmh)
    return Markup('<span class="kmh">{}</span><span class="mph">{}</span>').format(kmh, mph)


def merged(kmh: Table, mph: Table) -> Table:
    """Return one table that says everything in both units."""
    heads = zip(kmh.head, mph.head, strict=True)
    lines = zip(kmh.rows, mph.rows, strict=True)
    return Table(
        kmh.title,
        tuple(say(*pair) for pair in heads),
        tuple(tuple(_cell(*pair) for pair in zip(*line, strict=True)) for line in lines),
        say(kmh.remark, mph.remark),
        kmh.name,
        kmh.about,
    )


def merged_all(kmh: Sequence[Table], mph: Sequence[Table]) -> list[Table]:
    """Return the tables of both units, merged one by one."""
    return [merged(*pair) for pair in zip(kmh, mph, strict=True)]


def _cell(kmh: Cell, mph: Cell) -> Cell:
    return Cell(say(kmh.text, mph.text), say(kmh.below, mph.below))
