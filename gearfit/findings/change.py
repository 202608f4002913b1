"""How far road speed at the same engine speed moved, and whether that is what the tooth counts say."""

from __future__ import annotations

from typing import Final

from gearfit.comparison.shift import RIDE_TO_RIDE_SD, as_predicted
from gearfit.comparison.tooth_pairs import front_steps
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import (
    fell_or_rose,
    gear_list,
    gear_name,
    percent_like,
    percent_with_interval,
    points_apart,
    speed,
)
from gearfit.results import Estimate, Finding
from gearfit.words import setup_label, teeth

#: What a tyre can do to all gears: 6 mm of tread on a 640 mm wheel (2 x 6/640), and make-to-make differences of one size.
_TREAD_TEXT: Final = "6 mm of tread on a 640 mm wheel is 1.9 %; another make of the same size can be 2-3 %"
_RIDE_TO_RIDE_PERCENT: Final = 100 * RIDE_TO_RIDE_SD
#: How far the most likely tooth pair must lead before it is named alone.
_SURE: Final = 0.8


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say whether all gears together moved as predicted, and what that is in speeds."""
    all_gears, predicted = pair.comparison.all_gears_change_percent, pair.comparison.predicted_change_percent
    if all_gears is None:
        return [_nothing_in_common(pair)]
    agreement = pair.shift.agreement
    if agreement is not None and not agreement.agrees.any():
        return [_gears_contradict(pair)]
    found = [_measured(pair, all_gears) if predicted is None else _against(facts, pair, all_gears, predicted)]
    if not all_gears.contains(0.0):
        found += _speeds(facts, pair)
    if not _unseen(pair, all_gears):
        found += _pairs(pair, all_gears)
    return found


def _nothing_in_common(pair: Pair) -> Finding:
    a, b = pair.comparison.reference, pair.comparison.other
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


def _agreeing(pair: Pair) -> list[int]:
    """List the gears that agree with each other."""
    agreement = pair.shift.agreement
    return [g.gear for i, g in enumerate(pair.comparison.gears) if agreement is None or agreement.agrees[i]]


def _where(pair: Pair) -> str:
    return gear_list(_agreeing(pair))


def _unseen(pair: Pair, change: Estimate) -> bool:
    """Tell whether nothing but a speedometer was read and it shows no change where the teeth predict one."""
    predicted = pair.comparison.predicted_change_percent
    shown_only = {pair.reference.speed_source, pair.other.speed_source} == {"speedometer"}
    return shown_only and predicted is not None and not as_predicted(change, predicted) and change.contains(0.0)


def _measured(pair: Pair, change: Estimate) -> Finding:
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
    if _unseen(pair, change):
        return Finding(
            "warning",
            "speedometer-gearbox-driven",
            f"{head}. These are speedometer readings, and the instrument shows the same at the same engine speed as "
            "before: that is how a speedometer driven from the gearbox behaves, which cannot see the final drive at all. "
            "The swap is not shown to have failed; measure road speed with a satellite receiver to see it.",
        )
    apart = change.value - predicted
    text = f"{head}. They are {points_apart(apart, change)}, more than the scatter of the readings. "
    rest = (
        "the same in all gears that agree with each other" if len(_agreeing(pair)) > 1 else "in the one gear compared"
    )
    return Finding(
        "warning",
        "change-disagrees",
        text
        + f"What moves all gears together ({rest}): other teeth than stated (count them on the sprocket), the tyre "
        f"({_TREAD_TEXT}; pressure and load, some tenths of a per cent), or the tachometer, if its scale changed between "
        "the rides.",
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


def _pairs(pair: Pair, change: Estimate) -> list[Finding]:
    """Name the tooth pairs that could be fitted, where they are not plainly those stated."""
    if pair.comparison.predicted_change_percent is None and not pair.comparison.sprocket_candidates:
        return _without_teeth(pair, change)
    listed = pair.comparison.sprocket_candidates
    drive = pair.other.setup.final_drive
    if not listed or (change.contains(0.0) and pair.comparison.predicted_change_percent is None):
        return []
    best = listed[0]
    if (best.front, best.rear) == (drive.front, drive.rear):
        return []
    stated = next((c for c in listed if (c.front, c.rear) == (drive.front, drive.rear)), None)
    if best.probability >= _SURE:
        text = (
            f"The measured change fits {best.front}/{best.rear} teeth best (probability {100 * best.probability:.0f} %)"
        )
    else:
        names = ", ".join(f"{c.front}/{c.rear} ({100 * c.probability:.0f} %)" for c in listed)
        text = f"The measured change cannot tell these tooth pairs apart: {names}"
    if stated is None and drive.front is not None:
        text += f"; the stated {teeth(pair.other.setup)} is hardly among them. Count the teeth on the sprockets"
    return [Finding("warning" if stated is None else "note", "tooth-pairs", text + ".")]


def _without_teeth(pair: Pair, change: Estimate) -> list[Finding]:
    """Say which change at the front sprocket would look like this, where no teeth are stated."""
    steps = front_steps(pair.shift)
    if change.contains(0.0) or not steps:
        return []
    names = ", ".join(f"{old} to {new}" for old, new in steps)
    return [
        Finding(
            "note",
            "front-sprocket-guess",
            f"A front sprocket changed from {names} teeth would move the gears like this (so may pairs at the rear): "
            "count the teeth and put them into bike.toml to have it checked.",
        )
    ]
