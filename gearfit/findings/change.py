"""How far road speed at the same engine speed moved, and whether that is what the tooth counts say."""

from __future__ import annotations

from typing import Final

from gearfit.comparison.comparable_runs import mixes_kinds
from gearfit.comparison.shift import RIDE_TO_RIDE_SD, as_predicted, beyond_sprockets, too_wide
from gearfit.findings import clutch, tooth_pairs
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import (
    fell_or_rose,
    gear_list,
    gear_name,
    percent,
    percent_like,
    percent_with_interval,
    points_apart,
    speed,
)
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import Estimate, Finding
from gearfit.records.words import setup_label

#: What a tyre can do to all gears: 6 mm of tread on a 640 mm wheel (2 x 6/640), and make-to-make differences of one size.
_TREAD_TEXT: Final = "6 mm of tread on a 640 mm wheel is 1.9 %; another make of the same size can be 2-3 %"
#: What an instrument of the machine does, by kind of speed.
_READ: Final = {
    "speedometer": "speedometer readings, and the instrument shows",
    "machine": "speeds that the machine itself says, and it says",
}
_RIDE_TO_RIDE_PERCENT: Final = 100 * RIDE_TO_RIDE_SD


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say whether all gears together moved as predicted, and what that is in speeds."""
    all_gears, predicted = pair.comparison.all_gears_change_percent, pair.comparison.predicted_change_percent
    if all_gears is None:
        return [_nothing_in_common(pair)]
    agreement = pair.shift.agreement
    if agreement is not None and not agreement.agrees.any():
        return [_gears_contradict(pair)]
    if too_wide(all_gears):
        return [_scattered(pair, all_gears)]
    if beyond_sprockets(all_gears) and predicted is None:
        return [_not_to_be_believed(pair, all_gears)]
    found = tooth_pairs.exchanged(pair, all_gears)
    if not found:
        found = [
            _measured(facts, pair, all_gears) if predicted is None else _against(facts, pair, all_gears, predicted)
        ]
    if not all_gears.contains(0.0):
        found += _speeds(facts, pair)
    if not _unseen(facts, pair, all_gears):
        found += tooth_pairs.find(pair, all_gears)
    return found


def _nothing_in_common(pair: Pair) -> Finding:
    a, b = pair.comparison.reference, pair.comparison.other
    if pair.shift.noted_off is not None:
        off, value = pair.shift.noted_off
        text = (
            f"The gears of {b} look noted one too {'high' if off > 0 else 'low'}: as noted they did not move alike, one number "
            f"{'lower' if off > 0 else 'higher'} they all moved by {percent(value, 1)} from {a}. Correct the gears (or the first "
            "setup's), and the change is given."
        )
        return Finding("warning", "change-undecided", text)
    if pair.unclear:
        text = (
            f"Which gears were ridden is not clear: the readings of {a} and {b} fit together in two ways, which give "
            "different changes, so none is given. Write the gear beside the readings (column gear) in both."
        )
        return Finding("warning", "change-undecided", text)
    found = f"No gear was found in both {a} and {b}, so their gearing cannot be compared: ride or note the same gears in both."
    silent = [side.setup.name for side in (pair.reference, pair.other) if not side.samples["engine_rpm"].notna().any()]
    if silent:
        found = (
            f"Nothing in {' and '.join(silent)} holds an engine speed, which alone tells gears, so the gearing cannot be "
            "compared: log it, or note held readings of rpm and speed."
        )
    return Finding("warning", "no-common-gear", found)


def _gears_contradict(pair: Pair) -> Finding:
    changes = " and ".join(
        f"{gear_name(g.gear)} {percent_with_interval(g.change_percent)}" for g in pair.comparison.gears
    )
    return Finding(
        "warning",
        "change-undecided",
        f"From {pair.comparison.reference} to {pair.comparison.other} the gears did not change by the same factor: {changes}. "
        "A change of the final drive moves all alike, so these readings cannot tell what it did: take them again, in more gears.",
    )


def _not_to_be_believed(pair: Pair, change: Estimate) -> Finding:
    return Finding(
        "warning",
        "change-undecided",
        f"From {pair.comparison.reference} to {pair.comparison.other} road speed at the same engine speed moved by "
        f"{percent_with_interval(change)}, more than sprockets do. Look for miles per hour under a header in km/h (that alone is "
        "−38 or +61 %), gears noted one too high or low, or a file in the wrong folder.",
    )


def _scattered(pair: Pair, change: Estimate) -> Finding:
    gears = [f"{gear_name(g.gear)} {percent(g.change_percent.value, 1)}" for g in pair.comparison.gears]
    each = f" ({', '.join(gears)})" if len(gears) > 1 else ""
    todo = "Take more readings: at least three in each gear, in as many gears as you can, in both setups."
    if mixes_kinds(pair.reference.speed_source, pair.other.speed_source):
        todo = "One setup holds the machine's own speed and the other does not: record both rides in the same way."
    return Finding(
        "warning",
        "change-undecided",
        f"From {pair.comparison.reference} to {pair.comparison.other} these readings cannot tell what changed: road speed at the "
        f"same engine speed moved by {percent_with_interval(change)}{each}, and a tooth or two is within that. {todo}",
    )


def _agreeing(pair: Pair) -> list[int]:
    """List the gears that agree with each other."""
    agreement = pair.shift.agreement
    return [g.gear for i, g in enumerate(pair.comparison.gears) if agreement is None or agreement.agrees[i]]


def _where(pair: Pair) -> str:
    return gear_list(_agreeing(pair))


def _shown_only(facts: Facts, pair: Pair) -> bool:
    """Tell whether one instrument of the machine, not stated to be at a wheel, was read in both setups."""
    source = pair.reference.speed_source
    return source in INSTRUMENTS and source == pair.other.speed_source and not facts.folder.bike.speedometer.at_wheel


def _unseen(facts: Facts, pair: Pair, change: Estimate) -> bool:
    """Tell whether such an instrument shows no change where the teeth predict one."""
    predicted = pair.comparison.predicted_change_percent
    unlike = predicted is not None and not as_predicted(change, predicted)
    return _shown_only(facts, pair) and unlike and as_predicted(change, 0.0)


def _measured(facts: Facts, pair: Pair, change: Estimate) -> Finding:
    if _shown_only(facts, pair) and change.contains(0.0):
        return Finding(
            "warning",
            "change-undecided",
            f"At the same engine speed, the machine's own speed is as much in {pair.comparison.other} as in "
            f"{pair.comparison.reference}: {percent_with_interval(change)} in {_where(pair)}. Either the gearing is the same, or "
            "the instrument is driven from the gearbox and cannot see it: measure road speed with a satellite receiver.",
        )
    return Finding(
        "note",
        "change-measured",
        f"At the same engine speed, road speed {fell_or_rose(change.value)} from {pair.comparison.reference} to "
        f"{pair.comparison.other}: {percent_with_interval(change)}, the same factor in {_where(pair)}. "
        "Nothing is predicted, because bike.toml does not state the sprockets of both setups.",
    )


def _against(facts: Facts, pair: Pair, change: Estimate, predicted: float) -> Finding:
    a, b = pair.reference.setup, pair.other.setup
    head = (
        f"At the same engine speed, road speed {fell_or_rose(change.value)} from {setup_label(a)} to "
        f"{setup_label(b)}: {percent_with_interval(change)} in {_where(pair)}; the teeth predict {percent_like(predicted, change)}"
    )
    if as_predicted(change, predicted):
        if change.contains(0.0) and predicted != 0:
            text = (
                f"{head}. That agrees, but so would no change at all: these readings are too few or too coarse to tell."
            )
            return Finding("warning", "change-undecided", text)
        if not change.contains(predicted):
            little = points_apart(change.value - predicted, change)
            return Finding(
                "note",
                "change-agrees",
                f"{head}. They are {little}, which is what tyre temperature and pressure do from ride to ride "
                f"({_RIDE_TO_RIDE_PERCENT:.2f} % is assumed): measured and predicted agree.",
            )
        return Finding("note", "change-agrees", f"{head}. Measured and predicted agree.")
    if _unseen(facts, pair, change):
        return Finding(
            "warning",
            "speedometer-gearbox-driven",
            f"{head}. These are {_READ[pair.reference.speed_source]} the same at the same engine speed as "
            "before: that is how a speedometer driven from the gearbox behaves, which cannot see the final drive at all. "
            "The swap is not shown to have failed; measure road speed with a satellite receiver to see it.",
        )
    gears = _agreeing(pair)
    alike = f"All {len(gears)} gears moved alike" if len(gears) > 1 else f"Only {gear_name(gears[0])} was compared"
    if len(gears) < len(pair.comparison.gears):
        alike = f"{_where(pair).capitalize()} moved alike"
    return Finding(
        "warning",
        "change-disagrees",
        f"{alike}, but not as the teeth say: road speed at the same engine speed {fell_or_rose(change.value)} from "
        f"{setup_label(a)} to {setup_label(b)}: {percent_with_interval(change)}; the teeth predict "
        f"{percent_like(predicted, change)}, {points_apart(change.value - predicted, change)}. What moves all gears together: other teeth than "
        f"stated (count them on the sprocket), the tyre ({_TREAD_TEXT}; pressure and load, some tenths of a per cent), or "
        "the tachometer, if its scale changed between the rides or it was off by the same number in one of them."
        f"{clutch.beside(tooth_pairs.shorter(pair, change, predicted))}",
    )


def _speeds(facts: Facts, pair: Pair) -> list[Finding]:
    """Show that the same factor is not the same number of km/h."""
    gears = _agreeing(pair)
    if len(gears) < 2:
        return []
    rpm = facts.reference_rpm()
    shown = []
    for gear in (gears[0], gears[-1]):
        before, after = (
            next(g for g in r.gears if g.gear == gear).speed_per_1000rpm_mps.value * rpm / 1000
            for r in (pair.reference, pair.other)
        )
        unit = facts.speed_unit
        shown.append(f"{speed(before, unit, 1)} to {speed(after, unit, 1)} in {gear_name(gear)}")
    return [
        Finding(
            "note",
            "speeds-at-rpm",
            f"At {rpm:.0f} rpm that is {shown[0]} and {shown[1]}: a change of gearing moves every gear by the same factor, "
            "never by the same number.",
        )
    ]
