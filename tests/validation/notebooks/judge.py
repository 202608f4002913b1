"""Each number that a report prints about a folder, against the truth."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tests.validation.notebooks import doubts
from tests.validation.notebooks.folders import Case
from tests.validation.notebooks.numbering import judge_numbering
from tests.validation.notebooks.printed import Printed
from tests.validation.notebooks.rows import judge_claims, judge_rows
from tests.validation.notebooks.truth import Truth
from tests.validation.notebooks.verdicts import (
    CANNOT,
    CHANGE,
    CHANGE_FLOOR_PERCENT,
    CIRCUMFERENCE,
    CIRCUMFERENCE_FLOOR,
    CRASH,
    GEAR_CHANGE,
    REFUSED,
    RIGHT,
    SILENT,
    SPROCKETS,
    TIME_FLOOR,
    TIMED,
    WARNED,
    WRONG,
    Verdict,
    ends,
    grade,
    no_number,
    shown,
)

#: Two tooth pairs whose changes are nearer than this cannot be told apart on a road [%].
ALIKE_PERCENT = 0.3


def judge(case: Case, printed: Printed) -> list[Verdict]:
    """Judge everything printed about one folder."""
    if printed.crash or printed.refusal:
        return [Verdict(CHANGE, CRASH if printed.crash else REFUSED, printed.crash or printed.refusal)]
    truth = case.truth
    numbering = judge_numbering(printed, truth)
    rows = judge_rows(printed, truth, (change := _change(printed, truth)).verdict == WRONG)
    return [
        change,
        *_gear_changes(printed, truth),
        *_circumferences(printed, truth),
        *_sprockets(printed, truth),
        *numbering,
        rows,
        *judge_claims(printed, truth),
        *_timed(printed, truth),
    ]


def _comparison(printed: Printed) -> dict[str, Any]:
    return printed.results["comparison"] or {}


def _doubts(truth: Truth) -> list[str]:
    """What there is to doubt about a change, beside misread rows."""
    return [doubts.NUMBERING] * (not all(truth.noted.values())) + [doubts.PICK_UP] * truth.gearbox_pick_up


def _change(printed: Printed, truth: Truth) -> Verdict:
    estimate: Any = _comparison(printed).get("all_gears_change_percent")
    if no_number(estimate):
        said = doubts.warns_of(printed, r"chang|compar|gear|moved", any_severity=True)
        return Verdict(CHANGE, CANNOT if said else SILENT, "no number", f"{truth.change_percent:.1f} %")
    found = grade(estimate, truth.change_percent, CHANGE_FLOOR_PERCENT)
    found = _softened_change(found, printed, truth, doubts.ABOUT_CHANGE)
    if found == WRONG and doubts.NOT_TOLD in printed.headline:
        found = WARNED
    lo, hi = ends(estimate)
    half = (hi - lo) / 2
    return Verdict(CHANGE, found, shown(estimate), f"{truth.change_percent:.1f} %", half)


def _softened_change(found: str, printed: Printed, truth: Truth, headline: str = "") -> str:
    """A change from a pick-up on the gearbox needs its finding, be it right by luck or not."""
    if truth.gearbox_pick_up and not doubts.warns_of(printed, doubts.PICK_UP, any_severity=True):
        return WRONG
    if truth.gearbox_pick_up and found != RIGHT:
        return doubts.headline_verdict(printed, [doubts.PICK_UP], headline) if headline else WARNED
    return doubts.softened(found, printed, _doubts(truth), doubts.names_slip(printed, truth), headline)


def _gear_changes(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    for gear in _comparison(printed).get("gears", []):
        estimate = gear["change_percent"]
        if no_number(estimate):
            yield Verdict(GEAR_CHANGE, CANNOT)
            continue
        found = grade(estimate, truth.change_percent, CHANGE_FLOOR_PERCENT)
        what = f"gear {gear['gear']}: {shown(estimate)}"
        yield Verdict(GEAR_CHANGE, _softened_change(found, printed, truth), what, f"{truth.change_percent:.1f} %")


def _circumferences(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    for name, setup in printed.results["setups"].items():
        estimate = setup["rolling_circumference_m"]
        if no_number(estimate):
            yield Verdict(CIRCUMFERENCE, CANNOT)
            continue
        yield _circumference(printed, truth, name, estimate)


def _circumference(printed: Printed, truth: Truth, name: str, estimate: dict[str, Any]) -> Verdict:
    apparent, implied = truth.apparent_m[name], truth.implied_m[name]
    doubt = [doubts.TEETH] if truth.misstated else [doubts.SPEEDOMETER] if truth.speedometer else []
    found = grade(estimate, apparent, CIRCUMFERENCE_FLOOR * apparent)
    if found == WRONG and truth.misstated and grade(estimate, implied, CIRCUMFERENCE_FLOOR * implied) != WRONG:
        found = RIGHT if doubts.warns_of(printed, doubts.TEETH) else WRONG
    slip = doubts.names_slip(printed, truth)
    found = doubts.softened(found, printed, doubt, slip, doubts.ABOUT_CIRCUMFERENCE)
    told = f"{apparent:.3f} m" + (f" (by the stated teeth {implied:.3f} m)" if truth.misstated else "")
    return Verdict(CIRCUMFERENCE, found, f"{name}: {shown(estimate, 3, ' m')}", told)


def _sprockets(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    """The likeliest pair, where it is called likely; the reference is as stated, so changes are compared."""
    for pair in _comparison(printed).get("sprocket_candidates", []):
        if pair["probability"] >= 0.8:
            alike = abs(pair["predicted_change_percent"] - truth.teeth_change_percent) < ALIKE_PERCENT
            found = doubts.softened(
                RIGHT if alike else WRONG, printed, _doubts(truth), doubts.names_slip(printed, truth)
            )
            what = (
                f"{pair['front']}/{pair['rear']} at {pair['probability']:.0%}, {pair['predicted_change_percent']:.1f} %"
            )
            yield Verdict(SPROCKETS, found, what, f"{truth.teeth_change_percent:.1f} %")


def _timed(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    if truth.timed_difference_s is None:
        return
    for span in _comparison(printed).get("timed_spans", []):
        estimate, true_s = span["difference_s"], truth.timed_difference_s
        if no_number(estimate):
            said = doubts.warns_of(printed, r"single run|run.*no comparison|stopwatch", any_severity=True)
            yield Verdict(TIMED, CANNOT if said else SILENT, "no number", f"{true_s:.2f} s")
            continue
        found = grade(estimate, true_s, TIME_FLOOR * span["reference"]["mean_s"])
        what = f"{shown(estimate, 2, ' s')}, {span['reference']['n']} and {span['other']['n']} runs"
        yield Verdict(TIMED, doubts.softened(found, printed, [doubts.COPIES]), what, f"{true_s:.2f} s")
