"""What the page says in tables: headline, key figures, and one table per subject for which there are data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from gearfit.records import words
from gearfit.records.results import Analysis, Comparison, GearChange, GearResult, SetupResult
from gearfit.report.tables import gear_tables
from gearfit.report.tables.cells import Cell, Table, estimate_cell, row
from gearfit.report.tables.run_tables import run_tables
from gearfit.report.tables.speedometer_tables import dash_card, speedometer_tables
from gearfit.report.tables.timed_tables import timed_tables
from gearfit.units import from_mps

NO_NAME: Final = "Motorcycle without a name"
_LADDERS: Final = {
    "tooth counts": "from the tooth counts",
    "from the samples": "from the samples",
    "none": "none found",
}
_SOURCES: Final = {
    "receiver": "satellite receiver",
    "position": "satellite positions",
    "machine": "the machine itself",
    "hand": "hand-entered sheet",
    "mixed": "several sources",
}
#: Road speed at which the key figures give the engine speed.
_CRUISE: Final = {"kmh": 100.0, "mph": 60.0}


@dataclass(frozen=True)
class Headline:
    """The one big number of a comparison."""

    label: str
    number: str
    interval: str
    prediction: str


def headline(analysis: Analysis) -> list[Headline]:
    """Return the change over all gears of each comparison that has one."""
    lines = []
    for comparison in analysis.comparisons:
        change = comparison.all_gears_change_percent
        if change is None:
            continue
        ends = words.interval(change, signed=True)
        predicted = words.number(comparison.predicted_change_percent, signed=True)
        lines.append(
            Headline(
                f"Road speed at the same rpm, {comparison.other} against {comparison.reference}",
                f"{words.value(change, signed=True)}{words.TIE}%",
                "no interval" if ends == words.NOTHING else f"95{words.TIE}% interval {ends}{words.TIE}%",
                "tooth counts not stated"
                if predicted == words.NOTHING
                else f"tooth counts say {predicted}{words.TIE}%",
            )
        )
    return lines


def key_figures(analysis: Analysis) -> Table:
    """Return the table with one column per setup; rows about which no setup says anything are left out."""
    unit = words.speed_label(analysis.speed_unit)
    cruise = _CRUISE[analysis.speed_unit]
    top = max((gear.gear for result in analysis.setups for gear in result.gears), default=0)
    top_gear = f"in {words.ordinal(top)} gear"
    lines: list[tuple[str, Callable[[SetupResult], Cell | str]]] = [
        ("Sprockets, front/rear", lambda result: words.teeth(result.setup) or words.NOTHING),
        ("Rolling circumference [m]", lambda r: estimate_cell(r.circumference.estimate_m if r.circumference else None)),
        ("Circumference as stated or from the tyre size [m]", _nominal),
        (f"Speed {top_gear} [{unit} per 1000 rpm]", lambda r: _speed(_gear(r, top), analysis.speed_unit)),
        (f"Engine speed at {cruise:g} {unit} {top_gear} [rpm]", lambda r: _rpm_at(_gear(r, top), cruise, analysis)),
        ("Gears found", lambda result: str(len(result.gears))),
        ("Gears known", lambda result: _LADDERS.get(result.ladder, result.ladder)),
        ("Speed comes from", lambda result: _SOURCES.get(result.speed_source, result.speed_source)),
        ("Engine speed leads road speed by [s]", lambda result: estimate_cell(result.lag_s, signed=True)),
        ("Samples read", lambda result: words.whole(len(result.samples))),
        ("Samples in a gear", lambda result: words.whole(result.in_gear)),
    ]
    rows = [row(label, *(tell(result) for result in analysis.setups)) for label, tell in lines]
    said = tuple(line for line in rows if any(cell.text != words.NOTHING for cell in line[1:]))
    return Table(
        "Key figures", ("", *(words.setup_label(result.setup) for result in analysis.setups)), said, name="key-figures"
    )


def sections(analysis: Analysis) -> list[Table]:
    """Return every further table for which there are data, in reading order."""
    tables = [_of(result, gear_tables.ratios_table(analysis, result)) for result in analysis.setups if result.gears]
    if any(comparison.gears for comparison in analysis.comparisons):
        tables.append(gear_tables.changes_table(analysis))
    if any(comparison.sprocket_candidates for comparison in analysis.comparisons):
        tables.append(_candidates(analysis))
    tables += timed_tables(analysis)
    tables += run_tables(analysis)
    for result in analysis.setups:
        tables += [_of(result, table) for table in speedometer_tables(result, analysis.speed_unit)]
    if any(result.outlying_rows for result in analysis.setups):
        tables.append(_outlying(analysis))
    if any(result.left_out for result in analysis.setups):
        tables.append(_left_out(analysis))
    return tables


def _of(result: SetupResult, table: Table) -> Table:
    return replace(table, about=result.setup.name)


def dash_cards(analysis: Analysis) -> list[Table]:
    """Return the card for the dash of each setup whose speedometer was judged."""
    cards = [dash_card(result, analysis.speed_unit) for result in analysis.setups]
    return [card for card in cards if card is not None]


def _gear(result: SetupResult, number: int) -> GearResult | None:
    return next((gear for gear in result.gears if gear.gear == number), None)


def _nominal(result: SetupResult) -> str:
    stated = result.circumference.nominal_m if result.circumference else None
    return words.number(stated, 3)


def _speed(gear: GearResult | None, unit: str) -> Cell:
    return estimate_cell(None if gear is None else words.in_unit(gear.speed_per_1000rpm_mps, unit))


def _rpm_at(gear: GearResult | None, speed: float, analysis: Analysis) -> str:
    if gear is None:
        return words.NOTHING
    return words.number(1000 * speed / from_mps(gear.speed_per_1000rpm_mps.value, analysis.speed_unit), 0)


def _candidates(analysis: Analysis) -> Table:
    shown = [comparison for comparison in analysis.comparisons if comparison.sprocket_candidates]
    several = len(shown) > 1
    rows = tuple(
        row(
            f"{pair.front}/{pair.rear}",
            *([comparison.other] if several else []),
            words.number(pair.predicted_change_percent, signed=True),
            f"{words.number(100 * pair.probability, 0 if 0.01 <= pair.probability <= 0.99 else 1)}{words.TIE}%",
        )
        for comparison in shown
        for pair in comparison.sprocket_candidates
    )
    return Table(
        "Which sprockets are fitted" if several else f"Which sprockets are fitted, {shown[0].other}",
        ("Front/rear", *(["Setup"] if several else []), "Would change speed by [%]", "Probability"),
        rows,
        "How likely each tooth pair is at least, stated teeth believed or not; another tyre is allowed for.",
        "sprockets",
    )


def _outlying(analysis: Analysis) -> Table:
    unit = analysis.speed_unit
    label = words.speed_label(unit)
    rows = tuple(
        row(
            f"{outlying.file}, row {outlying.row}",
            words.ordinal(outlying.gear),
            words.number(outlying.engine_rpm, 0),
            words.number(from_mps(outlying.speed_mps, unit), 1),
            words.number(from_mps(outlying.expected_mps, unit), 1),
            words.number(outlying.z, 1, signed=True),
        )
        for result in analysis.setups
        for outlying in result.outlying_rows
    )
    head = ("Row", "Gear", "rpm", f"Read [{label}]", f"Expected [{label}]", "Standard errors away")
    remark = "They do not agree with the other readings of the same sheets."
    return Table("Rows to look at again", head, rows, remark, "odd-rows")


def _left_out(analysis: Analysis) -> Table:
    reasons = sorted({reason for result in analysis.setups for reason in result.left_out})
    rows = tuple(row(reason, *(words.whole(r.left_out.get(reason, 0)) for r in analysis.setups)) for reason in reasons)
    head = ("Reason", *(words.setup_label(result.setup) for result in analysis.setups))
    return Table("Samples left out, and why", head, rows, name="left-out")


def subtitle(analysis: Analysis) -> str:
    """Name the setups, reference first, with their tooth counts."""
    return " → ".join(words.setup_label(result.setup) for result in analysis.setups)


def change_of(comparison: Comparison, gear: int) -> GearChange | None:
    """Return the change of one gear, None where the comparison has none."""
    return next((change for change in comparison.gears if change.gear == gear), None)
