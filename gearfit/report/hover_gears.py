"""Points of the pictures that show one value a gear or a setup."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.dates import date2num

from gearfit import words
from gearfit.report import change_per_gear, circumference_history, ratios_against_nominal
from gearfit.report.told import Part, Told
from gearfit.results import Analysis, Estimate


def changes(analysis: Analysis) -> list[Told]:
    """Return the change of each gear, one `Told` per comparison."""
    return [
        _told(
            panel,
            f"{comparison.other} against {comparison.reference}",
            [change.gear for change in comparison.gears],
            [(change.gear, change.change_percent, change.consistent) for change in comparison.gears],
        )
        for panel, comparison in enumerate(change_per_gear.compared(analysis))
    ]


def deviations(analysis: Analysis) -> list[Told]:
    """Return how far each gear is from its tooth counts, one `Told` per setup."""
    found = []
    every = ratios_against_nominal.deviations(analysis)
    for index, result in enumerate(analysis.setups):
        mine = [(gear, deviation, consistent) for at, gear, deviation, consistent in every if at == index]
        if mine:
            places = [ratios_against_nominal.place(analysis, index, gear) for gear, _, _ in mine]
            found.append(_told(0, words.setup_label(result.setup), places, mine))
    return found


def circumferences(analysis: Analysis) -> list[Told]:
    """Return the circumference of each dated setup."""
    dated = circumference_history.dated(analysis)
    if len(dated) < circumference_history.LEAST:
        return []
    days = [date2num(when) for _, when, _ in dated]  # type: ignore[no-untyped-call]
    said = [
        f"{when:%d %B %Y}, {words.setup_label(analysis.setups[index].setup)}: "
        f"{words.value_and_interval(found.estimate_m, 'm')}"
        for index, when, found in dated
    ]
    values = np.array([found.estimate_m.value for _, _, found in dated])
    return [Told(0, "", np.array(days, dtype=np.float64), values, (Part("{}", (list(said),)),))]


def _told(panel: int, name: str, x: Sequence[float], rows: list[tuple[int, Estimate, bool | None]]) -> Told:
    said = [
        f"{words.ordinal(gear)} gear {words.value_and_interval(estimate, '%', signed=True)}"
        + (", out of line" if consistent is False else "")
        for gear, estimate, consistent in rows
    ]
    values = [estimate.value if math.isfinite(estimate.value) else math.nan for _, estimate, _ in rows]
    return Told(panel, name, np.array(x, dtype=np.float64), np.array(values), (Part("{}", (list(said),)),))
