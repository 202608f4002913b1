"""Which sprockets two rides show, in words: by size and beside other explanations, never by their odds.

How likely teeth are rests as much on how often people miscount as on the rides. So a reader gets what would fit, how
large it is, and what else would fit as well, and counts.
"""

from __future__ import annotations

import math
from typing import Final

from gearfit.comparison.shift import as_predicted
from gearfit.comparison.tooth_pairs import front_steps
from gearfit.findings import clutch
from gearfit.findings.facts import Pair
from gearfit.findings.words import percent, percent_like, percent_with_interval
from gearfit.prediction.gearing import tyre_factor
from gearfit.records.results import Estimate, Finding, FittedPairs, SetupResult, SprocketCheck
from gearfit.records.words import teeth

#: How likely a combination must be before it is named alone, and how unlikely one is not worth naming, or the stated one doubted.
SURE: Final = 0.8
_UNLIKELY: Final = 0.05
#: What else than teeth moves all gears by so little, with sizes, and up to which difference it may, per cent.
_ELSE: Final = "Another tyre of the same size (1–2 %), wear (1–2 %) or pressure and load (some tenths of a per cent)"
_ELSE_PERCENT: Final = 3.0
_NAMED: Final = 3


def exchanged(pair: Pair, change: Estimate) -> list[Finding]:
    """Say that before and after look exchanged; nothing where they do not."""
    check, predicted = pair.comparison.sprocket_check, pair.comparison.predicted_change_percent
    if check is None or predicted is None or check.exchanged_probability < SURE:
        return []
    a, b = pair.comparison.reference, pair.comparison.other
    text = (
        f"{a} and {b} look exchanged: from {a} to {b} road speed at the same engine speed changed by "
        f"{percent_with_interval(change)}, where the teeth predict {percent_like(predicted, change)}. Look which ride lies in "
        "which folder, and which teeth bike.toml states for it."
    )
    return [Finding("warning", "change-exchanged", text)]


def find(pair: Pair, change: Estimate) -> list[Finding]:
    """Name the tooth pairs that could be fitted, where they are not plainly those stated."""
    check, predicted = pair.comparison.sprocket_check, pair.comparison.predicted_change_percent
    if check is None:
        return _without_teeth(pair, change) if predicted is None else []
    if not check.pairs:
        return [_no_pair(pair, change)]
    if predicted is None:
        return [] if change.contains(0.0) else [_unstated(pair, check, change)]
    if check.exchanged_probability >= SURE:
        return []
    if _is_stated(pair, check.pairs[0]):
        return [] if as_predicted(change, predicted) else [_other_cause(pair, change, predicted)]
    if check.pairs[0].probability >= SURE:
        return [_better(pair, check, change, predicted)]
    return [] if as_predicted(change, predicted) else [_open(pair, check, change, predicted)]


def names_others(pair: Pair) -> bool:
    """Tell whether it is said of two stated pairs that others fit, that they are exchanged, or that none fits."""
    check, predicted = pair.comparison.sprocket_check, pair.comparison.predicted_change_percent
    if check is None or predicted is None:
        return False
    return not check.pairs or (check.pairs[0].probability >= SURE and not _is_stated(pair, check.pairs[0]))


def _is_stated(pair: Pair, fitted: FittedPairs) -> bool:
    drives = pair.reference.setup.final_drive, pair.other.setup.final_drive
    return (fitted.reference, fitted.other) == tuple((drive.front, drive.rear) for drive in drives)


def _no_pair(pair: Pair, change: Estimate) -> Finding:
    text = (
        f"No tooth pair explains a change of {percent_with_interval(change)} from {pair.comparison.reference} to "
        f"{pair.comparison.other}. Look for a speed in another unit (mph taken for km/h is 61 %), a wrong file or a wrong gear."
    )
    return Finding("warning", "tooth-pairs-none", text)


def _unstated(pair: Pair, check: SprocketCheck, change: Estimate) -> Finding:
    """Name the pairs of a setup whose teeth are not stated."""
    listed = ", ".join(
        f"{c.front}/{c.rear} ({percent(c.predicted_change_percent, 1)})"
        for c in check.candidates[: 1 if _sure(check) else _NAMED]
        if c.probability >= _UNLIKELY
    )
    name = pair.comparison.other
    said = (
        f"In {name} the change fits {listed}" if _sure(check) else f"In {name} several pairs fit the change: {listed}"
    )
    return Finding("note", "tooth-pairs", f"{_else(change.value, change)}{said}; count the teeth to be certain.")


def _sure(check: SprocketCheck) -> bool:
    return check.candidates[0].probability >= SURE


def _other_cause(pair: Pair, change: Estimate, predicted: float) -> Finding:
    """Say that the stated teeth stay the likeliest though the change is another."""
    stated = f"the stated {teeth(pair.reference.setup)} and {teeth(pair.other.setup)}"
    other = _else(change.value - predicted, change, pair)
    text = (
        f"{other}Of all teeth {stated} stay the likeliest; count them to be certain."
        if other
        else f"No other teeth are likelier than {stated}, yet these do not explain the change."
    )
    return Finding("note", "tooth-pairs", text)


def _better(pair: Pair, check: SprocketCheck, change: Estimate, predicted: float) -> Finding:
    """Name the one combination that fits, and where the statement is likely wrong."""
    best = check.pairs[0]
    setups = (pair.reference.setup, best.reference), (pair.other.setup, best.other)
    fits = " and ".join(f"{front}/{rear} in {setup.name}" for setup, (front, rear) in setups)
    stated = " and ".join(teeth(setup) for setup, _ in setups)
    wrong = " and ".join(setup.name for setup, (front, rear) in setups if teeth(setup) != f"{front}/{rear}")
    off = max(
        abs(math.log(setup.final_drive.reduction * f / r)) for setup, (f, r) in setups if setup.final_drive.reduction
    )
    other = "" if as_predicted(change, predicted) else _else(change.value - predicted, change, pair)
    text = (
        f"{other}The rides fit {fits} better than the stated {stated}: count the teeth in "
        f"{wrong}, where the statement is off by {100 * math.expm1(off):.0f} %."
    )
    return Finding("warning", "tooth-pairs", text)


def _open(pair: Pair, check: SprocketCheck, change: Estimate, predicted: float) -> Finding:
    """List what the rides cannot tell apart."""
    a, b = pair.comparison.reference, pair.comparison.other
    listed = ", ".join(
        f"{found.reference[0]}/{found.reference[1]} and {found.other[0]}/{found.other[1]}"
        f"{' as stated' if _is_stated(pair, found) else ''} ({percent(_change(pair, found), 1)})"
        for found in check.pairs[:_NAMED]
        if found.probability >= _UNLIKELY
    )
    text = (
        f"{_else(change.value - predicted, change, pair)}These teeth in {a} and {b} come nearest: {listed}; count them."
    )
    unlikely = check.stated_probability is not None and check.stated_probability < _UNLIKELY
    return Finding("warning" if unlikely else "note", "tooth-pairs", text)


def shorter(pair: Pair, change: Estimate, predicted: float) -> SetupResult:
    """Return the setup whose gears look shorter beside the other's than its teeth say."""
    return pair.other if change.value < predicted else pair.reference


def _else(apart_percent: float, change: Estimate, pair: Pair | None = None) -> str:
    """Name what else could explain a difference of this size, as a sentence; empty where nothing else could.

    With `pair` the difference is one from the prediction, and a clutch that slips is among it.
    """
    half = (change.hi95 - change.lo95) / 2
    if abs(apart_percent) > _ELSE_PERCENT + half:
        return ""
    slips = pair and clutch.beside(pair.other if apart_percent < 0 else pair.reference)
    return f"{_ELSE}{', or a clutch that slips under load,' if slips else ''} could explain the difference of {percent(apart_percent, 1)} as well. "


def _change(pair: Pair, found: FittedPairs) -> float:
    """Change that teeth lead one to expect, per cent."""
    (front, rear), (new_front, new_rear) = found.reference, found.other
    tyre = tyre_factor(pair.reference.setup.tyre, pair.other.setup.tyre)
    return 100 * (tyre * new_front * rear / (new_rear * front) - 1)


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
