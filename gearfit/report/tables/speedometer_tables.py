"""The speedometer in tables: at the test speeds, with a corrector set, and the dash card to cut out."""

from __future__ import annotations

from typing import Final

from gearfit.records import words
from gearfit.records.results import Correction, SetupResult, Speedometer, SpeedometerPoint
from gearfit.report.tables.cells import Cell, Table, estimate_cell, row
from gearfit.units import from_mps

_LAW: Final = "Law differs from place to place: which rule counts for this machine is a question for local advice."


def speedometer_tables(result: SetupResult, unit: str) -> list[Table]:
    """Return the tables of one setup; none where its speedometer was not judged."""
    if result.speedometer is None:
        return []
    name = words.setup_label(result.setup)
    at, correction = _at(name, result.speedometer, unit), result.speedometer.correction
    return [at] if isinstance(correction, str) else [at, _corrected(name, correction, unit)]


def dash_card(result: SetupResult, unit: str) -> Table | None:
    """Return the card for the dash: shown against true; None where its speedometer was not judged."""
    if result.speedometer is None or not result.speedometer.card:
        return None
    label = words.speed_label(unit)
    lines = result.speedometer.card
    rows = tuple(
        row(
            words.number(from_mps(line.shown_mps, unit), 0),
            words.number(from_mps(line.true_mps.value, unit), 0),
        )
        for line in lines
    )
    return Table(words.setup_label(result.setup), (f"Dash shows [{label}]", f"True speed [{label}]"), rows)


def _at(name: str, instrument: Speedometer, unit: str) -> Table:
    label = words.speed_label(unit)
    rows = tuple((*_point(p, unit), Cell(_verdict(p))) for p in instrument.at)
    return Table(
        f"Speedometer, {name}",
        (f"True speed [{label}]", f"Shown [{label}]", f"Error [{label}]", f"Allowed to show [{label}]", "Verdict"),
        rows,
        f"{_rule(instrument)} Shown = {words.value(instrument.gain)} x true "
        f"{words.number(from_mps(instrument.offset_mps.value, unit), 1, signed=True)} {label}, from "
        f"{', '.join(instrument.rests_on)}.{_no_corrector(instrument)} {_LAW}",
        "speedometer",
    )


def _no_corrector(instrument: Speedometer) -> str:
    return f" Pulse corrector: {instrument.correction}." if isinstance(instrument.correction, str) else ""


def _rule(instrument: Speedometer) -> str:
    if instrument.rule == "none":
        return "No rule was asked for."
    return f"Against {instrument.rule}: {instrument.verdict}."


def _corrected(name: str, correction: Correction, unit: str) -> Table:
    label = words.speed_label(unit)
    return Table(
        f"With a pulse corrector, {name}",
        (f"True speed [{label}]", f"Shown [{label}]", f"Error [{label}]", f"Allowed to show [{label}]"),
        tuple(_point(p, unit) for p in correction.remaining),
        f"Set to {words.number(correction.pulse_factor, 3)} pulses out for each pulse in "
        f"({words.number(100 * (correction.pulse_factor - 1), 1, signed=True)} %). The offset stays as it is. "
        f"{words.SAFE_FACTOR}",
        "corrector",
    )


def _point(p: SpeedometerPoint, unit: str) -> tuple[Cell, ...]:
    ends = [None if end is None else from_mps(end, unit) for end in (p.allowed_lo_mps, p.allowed_hi_mps)]
    return row(
        words.number(from_mps(p.true_mps, unit), 1),
        estimate_cell(words.in_unit(p.indicated_mps, unit)),
        estimate_cell(words.in_unit(p.error_mps, unit), signed=True),
        words.NOTHING if ends == [None, None] else " to ".join(words.number(end, 1) for end in ends),
    )


def _verdict(p: SpeedometerPoint) -> str:
    more = p.readings_needed
    return p.verdict if more is None else f"{p.verdict} (needs {words.count(more, 'more reading')})"
