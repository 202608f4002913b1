"""Rows that a report sets aside, and gears that it calls out of line, against the rows that were misread."""

from __future__ import annotations

from collections.abc import Iterator

from tests.validation.notebooks import doubts
from tests.validation.notebooks.printed import Printed
from tests.validation.notebooks.truth import Place, Truth
from tests.validation.notebooks.verdicts import (
    CANNOT,
    CHANGE_FLOOR_PERCENT,
    GEAR_CLAIM,
    RIGHT,
    ROWS,
    WARNED,
    WRONG,
    Verdict,
)


def left_out(printed: Printed, truth: Truth) -> dict[Place, str]:
    """Rows of readings that are in no gear, with the reason; copies of a sheet are not counted."""
    if printed.samples.empty:
        return {}
    gone = printed.samples[printed.samples["left_out"].fillna("") != ""]
    places = zip(gone["file"], gone["row"].astype(int), gone["left_out"], strict=True)
    return {(f, r): str(why) for f, r, why in places if (f, r) in truth.rows and "(1)" not in f}


def good_rows(truth: Truth) -> set[Place]:
    """Rows that were read rightly, copies not counted."""
    return {place for place, row in truth.rows.items() if not row.slip and "(1)" not in place[0]}


def judge_rows(printed: Printed, truth: Truth, change_wrong: bool) -> Verdict:
    """Judge the rows set aside.

    A misread row found is right, so is none found where there is none; one that is not found counts as not told. A
    good row accused is `warned` (its line is named, the rider can look), or wrong where the change is.
    """
    gone = left_out(printed, truth)
    good = [place for place in gone if place in good_rows(truth)]
    told = "; ".join(f"{file} line {line}" for file, line in good)
    slips = ", ".join(f"{row.slip} {file} line {line}" for (file, line), row in truth.slips.items())
    if good:
        return Verdict(ROWS, WRONG if change_wrong else WARNED, f"good rows out: {told}", slips or "none misread")
    found = any(place in truth.slips for place in gone) or doubts.names_slip(printed, truth)
    return Verdict(ROWS, RIGHT if found or not truth.slips else CANNOT, "none out of line", slips)


def judge_claims(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    """Judge gears called out of line with the others or with right teeth; a gear with a misread row is."""
    comparison = printed.results["comparison"] or {}
    stated = truth.stated_change_percent
    if stated is not None and abs(stated - truth.teeth_change_percent) > CHANGE_FLOOR_PERCENT:
        return
    touched = {gear for row in truth.slips.values() for gear in (row.gear, row.true_gear)}
    numbers = [(e["gear"], e["consistent"]) for e in comparison.get("gears", [])]
    if not truth.misstated:
        numbers += [(e["gear"], e["consistent"]) for s in printed.results["setups"].values() for e in s["gears"]]
    for gear, consistent in numbers:
        if consistent is None:
            continue
        false = not consistent and gear not in touched and not truth.gearbox_pick_up
        yield Verdict(GEAR_CLAIM, WRONG if false else RIGHT, f"gear {gear} out of line" if false else "", "all in line")
