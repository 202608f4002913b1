"""The tables of the page as plain texts: a title, a head, rows, a remark."""

from __future__ import annotations

from dataclasses import dataclass

from gearfit.report import words
from gearfit.report.tables import change_of
from gearfit.results import Analysis, Comparison, GearResult, SetupResult, SpanComparison, SpanSummary, Speedometer
from gearfit.units import from_mps

_LADDERS = {
    "tooth counts": "known from the tooth counts",
    "from the samples": "found in the samples, numbered from the lowest",
    "none": "no stepped gears found",
}
_CONSISTENT = {True: "agrees", False: "out of line", None: words.NOTHING}


@dataclass(frozen=True)
class Table:
    """One table: texts only, the first cell of a row is its head."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    remark: str = ""


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
        predicted = comparison.predicted_change_percent
        lines.append(
            Headline(
                f"Road speed at the same rpm, {comparison.other} against {comparison.reference}",
                f"{words.value(change, signed=True)} %",
                "no interval" if ends == words.NOTHING else f"95 % interval {ends} %",
                "tooth counts not stated"
                if predicted is None
                else f"tooth counts say {words.number(predicted, signed=True)} %",
            )
        )
    return lines


def key_figures(analysis: Analysis) -> Table:
    """Return the table with one column per setup."""
    unit = analysis.speed_unit
    round_speed = 100.0 if unit == "kmh" else 60.0
    setups = analysis.setups
    rows: list[tuple[str, ...]] = [("Sprockets, front/rear", *(words.teeth(r.setup) or words.NOTHING for r in setups))]
    if any(r.circumference for r in setups):
        rows.append(("Rolling circumference [m]", *(_circumference(r) for r in setups)))
        rows.append(("Circumference as stated or from the tyre size [m]", *(_nominal(r) for r in setups)))
    if any(r.gears for r in setups):
        top = max(gear.gear for r in setups for gear in r.gears)
        label = f"Speed in {words.ordinal(top)} gear [{words.speed_label(unit)} per 1000 rpm]"
        rows.append((label, *(_speed(_gear(r, top), unit) for r in setups)))
        label = f"Engine speed at {round_speed:g} {words.speed_label(unit)} in {words.ordinal(top)} gear [rpm]"
        rows.append((label, *(_rpm_at(_gear(r, top), round_speed, unit) for r in setups)))
    rows.append(("Gears", *(f"{len(r.gears) or 'none'}, {_LADDERS.get(r.ladder, r.ladder)}" for r in setups)))
    rows.append(("Speed comes from", *(r.speed_source for r in setups)))
    if any(r.lag_s for r in setups):
        rows.append(("Engine speed leads speed by [s]", *(words.value_and_interval(r.lag_s) for r in setups)))
    rows.append(("Samples read", *(words.count(len(r.samples), "sample").split(" ")[0] for r in setups)))
    rows.append(("Samples in a gear", *(words.count(r.in_gear, "sample").split(" ")[0] for r in setups)))
    return Table("Key figures", ("", *(words.setup_label(r.setup) for r in setups)), tuple(rows))


def sections(analysis: Analysis) -> list[Table]:
    """Return every further table for which there are data, in reading order."""
    tables = [_gears(analysis, result) for result in analysis.setups if result.gears]
    for comparison in analysis.comparisons:
        if comparison.sprocket_candidates:
            tables.append(_candidates(comparison))
        if comparison.timed_spans:
            tables.append(_spans(comparison, analysis.speed_unit))
    tables += [_speedometer(r, r.speedometer, analysis.speed_unit) for r in analysis.setups if r.speedometer]
    if any(r.outlying_rows for r in analysis.setups):
        tables.append(_outlying(analysis))
    if any(r.left_out for r in analysis.setups):
        tables.append(_left_out(analysis))
    return tables


def _gear(result: SetupResult, number: int) -> GearResult | None:
    return next((gear for gear in result.gears if gear.gear == number), None)


def _circumference(result: SetupResult) -> str:
    return words.value_and_interval(result.circumference.estimate_m if result.circumference else None)


def _nominal(result: SetupResult) -> str:
    return words.number(result.circumference.nominal_m if result.circumference else None, 3)


def _speed(gear: GearResult | None, unit: str) -> str:
    return words.NOTHING if gear is None else words.value_and_interval(words.in_unit(gear.speed_per_1000rpm_mps, unit))


def _rpm_at(gear: GearResult | None, speed: float, unit: str) -> str:
    if gear is None:
        return words.NOTHING
    return words.number(1000 * speed / from_mps(gear.speed_per_1000rpm_mps.value, unit), 0)


def _gears(analysis: Analysis, result: SetupResult) -> Table:
    unit = analysis.speed_unit
    comparison = next((c for c in analysis.comparisons if c.other == result.setup.name), None)
    known = any(gear.nominal_overall_ratio is not None for gear in result.gears)
    fitted = any(gear.overall_ratio is not None for gear in result.gears)
    head = ["Gear", "Samples", "Passages", f"{words.speed_label(unit)} per 1000 rpm"]
    head += ["Overall ratio"] if fitted else []
    head += ["From tooth counts", "Deviation [%]", "Ratio"] if known else []
    head += ["Change [%]", "Tooth counts say [%]", "Change is"] if comparison else []
    rows = []
    for gear in result.gears:
        row = [words.ordinal(gear.gear), str(gear.samples), str(gear.passages), _speed(gear, unit)]
        row += [words.value_and_interval(gear.overall_ratio)] if fitted else []
        if known:
            row += [
                words.number(gear.nominal_overall_ratio, 3),
                words.value_and_interval(gear.deviation_percent, signed=True),
                _CONSISTENT[gear.consistent],
            ]
        if comparison:
            change = change_of(comparison, gear.gear)
            row += [
                words.value_and_interval(change.change_percent if change else None, signed=True),
                words.number(change.predicted_percent if change else None, signed=True),
                _CONSISTENT[change.consistent if change else None],
            ]
        rows.append(tuple(row))
    return Table(f"Gears, {words.setup_label(result.setup)}", tuple(head), tuple(rows))


def _candidates(comparison: Comparison) -> Table:
    rows = tuple(
        (
            f"{pair.front}/{pair.rear}",
            words.number(pair.predicted_change_percent, signed=True),
            f"{words.number(100 * pair.probability, 0 if 0.01 <= pair.probability <= 0.99 else 1)} %",
        )
        for pair in comparison.sprocket_candidates
    )
    return Table(
        f"Which sprockets are fitted, {comparison.other}",
        ("Front/rear", "Would change speed by [%]", "Probability"),
        rows,
        "How well each tooth pair explains the measured change, if one of these is fitted and the tyre is the same.",
    )


def _spans(comparison: Comparison, unit: str) -> Table:
    names = (comparison.reference, comparison.other)
    return Table(
        f"Timed spans, {comparison.other} against {comparison.reference}",
        ("Span", *(f"{name} [s]" for name in names), "Difference [s]", "Gearing alone predicts [s]", "Runs to settle it"),
        tuple(_span_row(span, unit) for span in comparison.timed_spans),
        "Mean, with the scatter of single runs (standard deviation) and their number. A minus means quicker. "
        "“Runs to settle it”: in each setup, to show a difference of this size four times out of five.",
    )


def _span_row(span: SpanComparison, unit: str) -> tuple[str, ...]:
    needed = span.runs_needed_per_setup
    return (
        words.span_label(span.from_mps, span.to_mps, unit),
        _summary(span.reference),
        _summary(span.other),
        "one run is no comparison" if span.difference_s is None else words.value_and_interval(span.difference_s, signed=True),
        words.value_and_interval(span.predicted_difference_s, signed=True),
        words.NOTHING if needed is None else str(needed),
    )


def _summary(summary: SpanSummary) -> str:
    scatter = "" if summary.sd_s is None else f" ± {words.number(summary.sd_s)}"
    return f"{words.number(summary.mean_s)}{scatter}, {words.count(summary.n, 'run')}"


def _speedometer(result: SetupResult, speedometer: Speedometer, unit: str) -> Table:
    rows = []
    for point in speedometer.at:
        lo, hi = (
            None if end is None else from_mps(end, unit) for end in (point.allowed_lo_mps, point.allowed_hi_mps)
        )
        rows.append(
            (
                words.number(from_mps(point.true_mps, unit), 1),
                words.value_and_interval(words.in_unit(point.indicated_mps, unit)),
                words.value_and_interval(words.in_unit(point.error_mps, unit), signed=True),
                words.NOTHING if lo is None and hi is None else f"{words.number(lo, 1)} to {words.number(hi, 1)}",
            )
        )
    label = words.speed_label(unit)
    return Table(
        f"Speedometer, {words.setup_label(result.setup)}",
        (f"True speed [{label}]", f"Shown [{label}]", f"Error [{label}]", f"Allowed to show [{label}]"),
        tuple(rows),
        f"Against the rule: {speedometer.verdict}. Multiply what it shows by "
        f"{words.number(speedometer.correction_factor, 3)} (after its offset) for the true speed.",
    )


def _outlying(analysis: Analysis) -> Table:
    unit = analysis.speed_unit
    label = words.speed_label(unit)
    rows = tuple(
        (
            f"{row.file}, row {row.row}",
            words.ordinal(row.gear),
            words.number(row.engine_rpm, 0),
            words.number(from_mps(row.speed_mps, unit), 1),
            words.number(from_mps(row.expected_mps, unit), 1),
            words.number(row.z, 1, signed=True),
        )
        for result in analysis.setups
        for row in result.outlying_rows
    )
    head = ("Row", "Gear", "rpm", f"Read [{label}]", f"Expected [{label}]", "Standard errors away")
    return Table("Rows to look at again", head, rows, "They do not agree with the other readings of the same sheets.")


def _left_out(analysis: Analysis) -> Table:
    reasons = sorted({reason for result in analysis.setups for reason in result.left_out})
    rows = tuple(
        (reason, *(words.count(r.left_out.get(reason, 0), "sample").split(" ")[0] for r in analysis.setups))
        for reason in reasons
    )
    return Table(
        "Samples left out, and why", ("Reason", *(words.setup_label(r.setup) for r in analysis.setups)), rows
    )
