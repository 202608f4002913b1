"""The whole answer in four to eight short lines, for a terminal; up to three more for each further setup."""

from __future__ import annotations

from gearfit.comparison.shift import as_predicted, beyond_sprockets, too_wide
from gearfit.findings.words import gear_list, percent_like
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import Analysis, Comparison, SetupResult
from gearfit.records.words import count, interval, setup_label, span_label, value


def verdict(analysis: Analysis) -> list[str]:
    """Put an analysis into four to eight lines, and up to three more for each further setup."""
    title = analysis.bike.name or "This machine"
    reference, *others = (setup_label(result.setup) for result in analysis.setups)
    lines = [f"{title}: from {reference} to {' and '.join(others)}" if others else f"{title}: {reference}"]
    if analysis.comparisons:
        several = len(analysis.comparisons) > 1
        lines += [line for each in analysis.comparisons for line in _comparison(analysis, each, named=several)]
    else:
        lines.append("Nothing to compare: only one setup has a ride")
    lines.append(_circumference(analysis))
    lines += _speedometers(analysis.setups)
    lines += _odd(analysis.setups)
    warnings = [f for f in analysis.findings if f.severity == "warning"]
    rest = len(analysis.findings) - len(warnings)
    lines.append(f"The report has {count(len(warnings), 'warning')} and {count(rest, 'note')}")
    return lines


def _comparison(analysis: Analysis, comparison: Comparison, *, named: bool) -> list[str]:
    """Say what one comparison found; its setup leads each line where there are several."""
    lead = f"{comparison.other}: " if named else ""
    sides = (comparison.reference, comparison.other)
    sources = {result.speed_source for result in analysis.setups if result.setup.name in sides}
    shown_only = len(sources) == 1 and sources <= set(INSTRUMENTS) and not analysis.bike.speedometer.at_wheel
    lines = _compared(comparison, analysis.speed_unit, shown_only=shown_only)
    return [f"{lead}{line[0].lower() if lead else line[0]}{line[1:]}" for line in lines]


def _compared(comparison: Comparison, unit: str, *, shown_only: bool) -> list[str]:
    change, predicted = comparison.all_gears_change_percent, comparison.predicted_change_percent
    what = "The machine's own speed (not road speed)" if shown_only else "Road speed"
    if change is None:
        lines = [f"{what} at the same engine speed: cannot be compared, see the report"]
    elif too_wide(change):
        lines = [f"{what} at the same engine speed: these readings cannot tell ({interval(change, signed=True)} %)"]
    elif beyond_sprockets(change) and (predicted is None or not as_predicted(change, predicted)):
        lines = [
            f"{what} at the same engine speed: {value(change, signed=True)} %, unlikely: look at units, gears and files"
        ]
    else:
        said = "nothing predicted"
        if predicted is not None:
            said = f"the teeth predict {percent_like(predicted, change)}"
            said += "" if as_predicted(change, predicted) else ", which does not agree"
        lines = [
            f"{what} at the same engine speed: {value(change, signed=True)} % "
            f"({interval(change, signed=True)} %); {said}"
        ]
    odd = [gear.gear for gear in comparison.gears if gear.consistent is False]
    if odd:
        lines.append(f"Out of line with the other gears: {gear_list(odd)}")
    elif comparison.gears:
        several = len(comparison.gears) > 1
        lines.append(f"All {len(comparison.gears)} gears moved alike" if several else "Only one gear could be compared")
    for found in sorted(comparison.timed_spans, key=lambda span: span.difference_s is None)[:1]:
        name = span_label(found.from_mps, found.to_mps, unit)
        times = f"{name}: {found.reference.mean_s:.2f} s, then {found.other.mean_s:.2f} s"
        if found.difference_s is None:
            lines.append(f"{times}; too few runs to compare")
        else:
            within = found.difference_s.contains(0.0)
            said = "no more than the scatter" if within else "more than the scatter explains"
            rest = {span.difference_s.contains(0.0) for span in comparison.timed_spans if span.difference_s is not None}
            lines.append(f"{times}; {said}{'; not so in every span, see the report' if len(rest) > 1 else ''}")
    return lines


def _circumference(analysis: Analysis) -> str:
    far = {finding.about for finding in analysis.findings if finding.code == "circumference-far-from-nominal"}
    known = [
        f"{r.circumference.estimate_m.value:.3f} m {r.setup.name}{', far from its tyre size' * (r.setup.name in far)}"
        for r in analysis.setups
        if r.circumference is not None
    ]
    return "Rolling circumference: " + ("; " if far else ", ").join(known or ["cannot be told from these rides"])


def _speedometers(results: tuple[SetupResult, ...]) -> list[str]:
    told = [f"{r.speedometer.verdict} {r.setup.name}" for r in results if r.speedometer is not None]
    return [f"Speedometer: {', '.join(told)}"] if told else []


def _odd(results: tuple[SetupResult, ...]) -> list[str]:
    """Name what stands out most: a setup without gears, else rows that the other readings contradict."""
    empty = [r.setup.name for r in results if not r.gears and len(r.samples)]
    if empty:
        return [f"No gears found: {', '.join(empty)}"]
    rows = [f"{odd.file} line {odd.row}" for r in results for odd in r.outlying_rows]
    if not rows:
        return []
    return [f"Out of line with the other readings: {', '.join(rows[:3])}{' ...' if len(rows) > 3 else ''}"]
