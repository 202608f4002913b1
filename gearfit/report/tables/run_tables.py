"""The page's tables of single runs: those found in the rides with their changes of gear, and those left out."""

from __future__ import annotations

from typing import Final

from gearfit.records import words
from gearfit.records.results import Analysis, LeftOutRun, SetupResult, Shift, TimedSpan
from gearfit.report.tables.cells import Cell, Column, Table, estimate_cell, table_of, with_words

_SHIFTS: Final = (
    "Road and engine speed at which each gear was left, and the time by which the change made the run longer: its "
    "length less what the speed gained in it over the mean acceleration before and after."
)
_DELAY: Final = (
    "A constant delay of the receiver moves start and end alike and cancels; how much it jitters is in each run's "
    "standard error. Below that: the parts of start, of end, and of what both share."
)
_ROLLOUT: Final = "One-foot rollout"
_CORRECTED: Final = "Corrected by"
#: What is added to the words below the table with a column, by the beginning of its head.
_ADDED: Final = {
    _ROLLOUT: "The one-foot rollout is a figure of its own: the time from 0.3048 m after the first movement.",
    _CORRECTED: "Corrected: at 99 kPa and 298 K, to first order, beside the time as ridden and never instead of it.",
    "Slope": "Slope: uphill positive.",
}
#: Clockwise from north, every 22.5 degrees.
_COMPASS: Final = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")

Run = tuple[SetupResult, TimedSpan]


def run_tables(analysis: Analysis) -> list[Table]:
    """Return the tables of runs for which there are any."""
    tables = []
    if any(run.kind == "ride" for result in analysis.setups for run in result.timed_spans):
        tables.append(_found(analysis))
    if any(result.left_out_runs for result in analysis.setups):
        tables.append(_left_out(analysis))
    return tables


def corrections(analysis: Analysis) -> list[str]:
    """Return the standards by which times are corrected, each once."""
    stated = [result.setup.conditions.correction for result in analysis.setups]
    return list(dict.fromkeys(standard for standard in stated if standard is not None))


def _found(analysis: Analysis) -> Table:
    unit = analysis.speed_unit
    runs = [(result, run) for result in analysis.setups for run in result.timed_spans if run.kind == "ride"]
    further = with_words(_further(analysis, runs))
    columns: list[Column] = [
        ("Span", [words.span_label(run.from_mps, run.to_mps, unit) for _, run in runs]),
        ("Setup", [result.setup.name for result, _ in runs]),
        ("Began at [s]", [_where(run.source, run.start_s) for _, run in runs]),
        ("Time [s]", [estimate_cell(run.time_s) for _, run in runs]),
        *further,
        ("Ridden", [_ridden(run) for _, run in runs]),
        (
            "Changes of gear",
            ["; ".join(_change(shift, unit) for shift in run.shifts) or words.NOTHING for _, run in runs],
        ),
    ]
    said = [_SHIFTS] if any(run.shifts for _, run in runs) else []
    said += [_DELAY]
    said += [text for start, text in _ADDED.items() if any(head.startswith(start) for head, _ in further)]
    return table_of("Runs found in the rides", columns, " ".join(said), "runs")


def _further(analysis: Analysis, runs: list[Run]) -> list[Column]:
    """Return the columns that are shown only where a run has something to say in them."""
    return [
        ("Standard error [s]", [_error(run) for _, run in runs]),
        (f"{_ROLLOUT} [s]", [estimate_cell(run.rollout_time_s) for _, run in runs]),
        *(
            (f"{_CORRECTED} {standard} [s]", [_corrected(result, run, standard) for result, run in runs])
            for standard in corrections(analysis)
        ),
        ("Slope [%]", [estimate_cell(run.grade_percent, signed=True) for _, run in runs]),
        ("Direction", [_direction(run.heading_deg) for _, run in runs]),
    ]


def _where(source: str, start_s: float | None) -> Cell:
    return Cell(words.number(start_s, 1), source)


def _error(run: TimedSpan) -> Cell:
    parts = [(name, run.errors_s.get(key)) for key, name in (("start", "start"), ("end", "end"), ("common", "shared"))]
    below = ", ".join(f"{name}{words.TIE}{words.number(part, 3)}" for name, part in parts if part)
    return Cell(words.number(run.time_s.se, 3), below)


def _corrected(result: SetupResult, run: TimedSpan, standard: str) -> Cell:
    asked = result.setup.conditions.correction == standard
    return estimate_cell(run.corrected_time_s if asked else None)


def _direction(heading_deg: float | None) -> str:
    if heading_deg is None:
        return words.NOTHING
    return f"{_COMPASS[round(heading_deg / 22.5) % 16]} {round(heading_deg) % 360}°"


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
    runs = [(result, run) for result in analysis.setups for run in result.left_out_runs]
    columns: list[Column] = [
        ("Span", [words.span_label(run.from_mps, run.to_mps, unit) for _, run in runs]),
        ("Setup", [result.setup.name for result, _ in runs]),
        ("Began at [s]", [_where(run.source, run.start_s) for _, run in runs]),
        ("Time [s]", [words.number(run.time_s) for _, run in runs]),
        ("Reason", [reason_in(run, unit) for _, run in runs]),
    ]
    return table_of("Runs that do not count, and why", columns, "", "runs-left-out")


def reason_in(run: LeftOutRun, unit: str) -> str:
    """Say why a run does not count, its speed in "kmh" or "mph"."""
    if run.speed_mps is None:
        return run.reason
    return run.reason.replace(words.whole_speed(run.speed_mps, "kmh"), words.whole_speed(run.speed_mps, unit))
