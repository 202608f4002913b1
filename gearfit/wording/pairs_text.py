"""Tooth pairs by wish as plain text."""

from __future__ import annotations

from typing import Final

from gearfit.prediction.swap import SwapPrediction
from gearfit.prediction.wishes import FEWEST_TEETH_ADVISED, FRONT_REACH, MET_PERCENT, REAR_REACH, RankedPair, WishAnswer
from gearfit.records.words import NOTHING, count, number
from gearfit.units import SPEED_UNIT_LABELS, from_mps
from gearfit.wording.columns import bullets, paragraph, section, table

_LOOK_AT: Final = (
    f"Links: to add or remove so that the axle stays on its adjuster. Look at: sharp bend, fewer than {FEWEST_TEETH_ADVISED} "
    "teeth at the front wear chain and guide faster; front cover, a larger front sprocket needs room in it; rear guard, "
    "how far a larger rear sprocket comes out towards guard, guide and swing arm. Whether such sprockets are made, and may "
    "be fitted, is for the maker and the law to say."
)


def pairs_lines(prediction: SwapPrediction, unit: str, *, explained: bool = True) -> list[str]:
    """Write one section for each wish; without a wish and a change, the pairs next to the present one."""
    what_to_look_at = paragraph(_LOOK_AT) if explained else []
    lines = []
    for answer in prediction.wishes:
        gear = "top gear" if prediction.known is None else "that gear"
        lines += section(f"Pairs for {_wish_words(answer, unit, gear)}", _wish_lines(answer, explained))
    if prediction.now.pair is None:
        lines += section("Sprockets", _unknown(prediction))
    if prediction.neighbours:
        rows = [_row(pair, False) for pair in prediction.neighbours]
        lines += section("Pairs next to this one", table(_head(False), rows, words_last=True), what_to_look_at)
    return lines


def _unknown(prediction: SwapPrediction) -> list[str]:
    """Say what the wish comes to and what a ride says about sprockets that nobody has counted."""
    said = [
        f"The wish is a change of {number(wanted, signed=True)} % against now."
        for wanted in prediction.unanswered_percent
    ]
    likely = prediction.likely_teeth
    if likely is not None:
        half = 2 * likely.relative_sd * likely.reduction
        names = ", ".join(f"{front}/{rear}" for front, rear in likely.pairs)
        said.append(
            f"Gearbox, tyre and ride lead one to expect rear/front = {likely.reduction:.2f} ± {half:.2f}"
            + (f", for instance {names}." if names else ".")
        )
    said.append("Which pairs would do what needs the teeth that are fitted now: count them and state front and rear.")
    return bullets(said)


def _wish_words(answer: WishAnswer, unit: str, gear: str) -> str:
    change = f"a change of {number(answer.wanted_percent, signed=True)} %"
    if answer.cruise_mps is None or answer.at_rpm is None:
        return change
    speed = f"{from_mps(answer.cruise_mps, unit):.0f} {SPEED_UNIT_LABELS[unit]}"
    return f"{speed} at {answer.at_rpm:.0f} rpm in {gear}, {change}"


def _wish_lines(answer: WishAnswer, explained: bool) -> list[str]:
    lines = []
    if not answer.met:
        lines += paragraph(
            f"No pair within reach (front by up to {FRONT_REACH} teeth, rear by up to {REAR_REACH}) comes within "
            f"{count(int(MET_PERCENT), 'percentage point')} of the wish; the nearest are:"
        )
    lines += table(_head(True), [_row(pair, True) for pair in answer.pairs], words_last=True)
    if not explained:
        return lines
    first = "Nearest first; of pairs that miss by about as much, the one that changes one sprocket and moves the axle least."
    return lines + paragraph(f"{first} {_LOOK_AT}")


def _head(with_miss: bool) -> list[str]:
    return ["pair", "change %", *(["misses by % points"] if with_miss else []), "axle mm", "links", "look at"]


def _row(pair: RankedPair, with_miss: bool) -> list[str]:
    moved = None if pair.axle_movement_m is None else 1000 * pair.axle_movement_m
    links = NOTHING if pair.links_to_add is None else number(pair.links_to_add, 0, signed=True)
    miss = [number(pair.miss_percent, signed=True)] if with_miss else []
    return [
        f"{pair.front}/{pair.rear}",
        number(pair.change_percent, signed=True),
        *miss,
        number(moved, 1, signed=True),
        "same" if pair.links_to_add == 0 else links,
        "; ".join(pair.notes) or NOTHING,
    ]
