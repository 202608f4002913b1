"""The page's tables of single runs: those found in the rides with their changes of gear, and those left out."""

from __future__ import annotations

from typing import Final

from gearfit import words
from gearfit.report.cells import Cell, Table, estimate_cell, row
from gearfit.results import Analysis, LeftOutRun, Shift, TimedSpan

_REMARK: Final = (
    "Road and engine speed at which each gear was left, and the time by which the change made the run longer: its "
    "length less what the speed gained in it over the mean acceleration before and after."
)


def run_tables(analysis: Analysis) -> list[Table]:
    """Return the tables of runs for which there are any."""
    tables = []
    if any(run.kind == "ride" for result in analysis.setups for run in result.timed_spans):
        tables.append(_found(analysis))
    if any(result.left_out_runs for result in analysis.setups):
        tables.append(_left_out(analysis))
    return tables


def _found(analysis: Analysis) -> Table:
    unit = analysis.speed_unit
    rows = tuple(
        row(
            words.span_label(run.from_mps, run.to_mps, unit),
            result.setup.name,
            _where(run.source, run.start_s),
            estimate_cell(run.time_s),
            _ridden(run),
            "; ".join(_change(shift, unit) for shift in run.shifts) or words.NOTHING,
        )
        for result in analysis.setups
        for run in result.timed_spans
        if run.kind == "ride"
    )
    head = ("Span", "Setup", "Began at [s]", "Time [s]", "Ridden", "Changes of gear")
    return Table("Runs found in the rides", head, rows, _REMARK, "runs")


def _where(source: str, start_s: float | None) -> Cell:
    return Cell(words.number(start_s, 1), source)


def _ridden(run: TimedSpan) -> Cell:
    gears = ", ".join(map(str, run.gears))
    return Cell(run.how or words.NOTHING, f"gears {gears}" if len(run.gears) > 1 else f"gear {gears}" if gears else "")


def _change(shift: Shift, unit: str) -> str:
    said = f"{shift.from_gear} to {shift.to_gear} at {words.whole_speed(shift.speed_mps, unit)}"
    if shift.engine_rpm is not None:
        said += f", {words.number(shift.engine_rpm, 0)} rpm"
    return said if shift.lost_s is None else f"{said}, {words.number(shift.lost_s)} s lost"


def _left_out(analysis: Analysis) -> Table:
    unit = analysis.speed_unit
    rows = tuple(
        row(
            words.span_label(run.from_mps, run.to_mps, unit),
            result.setup.name,
            _where(run.source, run.start_s),
            words.number(run.time_s),
            reason_in(run, unit),
        )
        for result in analysis.setups
        for run in result.left_out_runs
    )
    head = ("Span", "Setup", "Began at [s]", "Time [s]", "Reason")
    return Table("Runs that do not count, and why", head, rows, name="runs-left-out")


def reason_in(run: LeftOutRun, unit: str) -> str:
    """Say why a run does not count, its speed in "kmh" or "mph"."""
    if run.speed_mps is None:
        return run.reason
    return run.reason.replace(words.whole_speed(run.speed_mps, "kmh"), words.whole_speed(run.speed_mps, unit))
