"""The page's tables of gears: what each setup's gears are, and how they changed."""

from __future__ import annotations

from typing import Final

from gearfit.records import words
from gearfit.records.results import Analysis, Comparison, SetupResult
from gearfit.report.tables.cells import Cell, Table, estimate_cell, row

_CONSISTENT: Final = {True: "agrees", False: "▲ out of line", None: words.NOTHING}


def ratios_table(analysis: Analysis, result: SetupResult) -> Table:
    """Return the gears of one setup; columns about which no gear says anything are left out."""
    head = (
        *("Gear", "Samples", "Passages", f"{words.speed_label(analysis.speed_unit)} per 1000 rpm"),
        *("Overall ratio", "From tooth counts", "Deviation [%]", "With the others"),
    )
    rows = [
        row(
            words.ordinal(gear.gear),
            words.whole(gear.samples),
            words.whole(gear.passages),
            estimate_cell(words.in_unit(gear.speed_per_1000rpm_mps, analysis.speed_unit)),
            estimate_cell(gear.overall_ratio),
            words.number(gear.nominal_overall_ratio, 3),
            estimate_cell(gear.deviation_percent, signed=True),
            _CONSISTENT[gear.consistent],
        )
        for gear in result.gears
    ]
    return _without_empty_columns("gears", f"Gears, {words.setup_label(result.setup)}", head, rows)


def changes_table(analysis: Analysis) -> Table:
    """Return the change of each gear beside the prediction, and that of all gears; one column a setup where several."""
    shown = [comparison for comparison in analysis.comparisons if comparison.gears]
    return _one_change(shown[0]) if len(shown) == 1 else _several_changes(analysis, shown)


def _one_change(comparison: Comparison) -> Table:
    rows = [
        row(
            words.ordinal(change.gear),
            estimate_cell(change.change_percent, signed=True),
            words.number(change.predicted_percent, signed=True),
            _CONSISTENT[change.consistent],
        )
        for change in comparison.gears
    ]
    if comparison.all_gears_change_percent is not None:
        predicted = words.number(comparison.predicted_change_percent, signed=True)
        every = estimate_cell(comparison.all_gears_change_percent, signed=True)
        rows.append(row("All gears", every, predicted, words.NOTHING))
    title = f"Change of each gear, {comparison.other} against {comparison.reference}"
    known = comparison.predicted_change_percent is not None
    head = ("Gear", "Change [%]", "Tooth counts say [%]", "With the prediction" if known else "With the others")
    return _without_empty_columns("changes", title, head, rows)


def _several_changes(analysis: Analysis, shown: list[Comparison]) -> Table:
    labels = {result.setup.name: words.setup_label(result.setup) for result in analysis.setups}
    gears = sorted({change.gear for comparison in shown for change in comparison.gears})
    rows = [row(words.ordinal(gear), *(_change(comparison, gear) for comparison in shown)) for gear in gears]
    rows.append(row("All gears", *(estimate_cell(c.all_gears_change_percent, signed=True) for c in shown)))
    predicted = [words.number(comparison.predicted_change_percent, signed=True) for comparison in shown]
    if any(cell != words.NOTHING for cell in predicted):
        rows.append(row("Tooth counts say", *predicted))
    title = f"Change of each gear, against {shown[0].reference}"
    head = ("Gear", *(f"{labels[comparison.other]} [%]" for comparison in shown))
    return Table(title, head, tuple(rows), name="changes")


def _change(comparison: Comparison, gear: int) -> Cell:
    change = next((known for known in comparison.gears if known.gear == gear), None)
    if change is None:
        return Cell(words.NOTHING)
    cell = estimate_cell(change.change_percent, signed=True)
    return Cell(cell.text, f"{cell.below} {_CONSISTENT[False]}") if change.consistent is False else cell


def _without_empty_columns(name: str, title: str, head: tuple[str, ...], rows: list[tuple[Cell, ...]]) -> Table:
    kept = [column for column in range(len(head)) if any(line[column].text != words.NOTHING for line in rows)]
    return Table(
        title,
        tuple(head[column] for column in kept),
        tuple(tuple(line[column] for column in kept) for line in rows),
        name=name,
    )
