"""Which sprockets one ride shows by itself, given gearbox and tyre, and whether the stated ones are among them."""

from __future__ import annotations

import math
from typing import Final

from gearfit.comparison.shown_reduction import Reduction, shown_reduction
from gearfit.comparison.sold_pairs import fronts_sold, goes_round, rears_sold
from gearfit.comparison.wrong_entry import wrong_entry
from gearfit.findings.facts import Facts
from gearfit.findings.tooth_pairs import names_others
from gearfit.machine.bike import FinalDrive
from gearfit.records.results import Finding
from gearfit.records.words import teeth

#: Front sprockets named where none is stated, teeth (common practice, no source).
_USUAL_FRONTS: Final = (13, 14, 15, 16, 17)

_NAMES: Final = "such as"
#: Off by less than this, ln, another sprocket is likelier than another primary drive (ours).
_PRIMARY: Final = 0.12


def find(facts: Facts, index: int) -> list[Finding]:
    """Say which teeth fit the ride of a setup; with several setups only where that is news."""
    result = facts.results[index]
    setup, drive = result.setup, result.setup.final_drive
    shown = shown_reduction(facts.folder.bike, setup, facts.fits[index].levels, result.speed_source)
    if shown is None or _said(facts, index):
        return []
    if drive.reduction is None:
        return [
            Finding(
                "note",
                "tooth-pairs-of-ride",
                f"{setup.name}: {_lower(_fits(shown, drive))}. Count the teeth and put them into bike.toml.",
            )
        ]
    off = f"{100 * abs(math.expm1(shown.apart(drive) or 0.0)):.1f} %"
    stated = teeth(setup)
    if shown.doubts(drive):
        if not fronts_sold(drive):
            return [_no_sprockets(setup.name, off)]
        text = (
            f"{setup.name}: with the stated {stated} all gears are {off} off, more than tyre and tachometer explain, so no "
            f"circumference is given. {_reason(facts, index, shown, drive)}"
        )
        return [Finding("warning", "tooth-pairs-of-ride", text)]
    if len(facts.results) > 1 or not fronts_sold(drive):
        return []
    if shown.holds(drive.front or 1, drive.rear or 1):
        return [
            Finding(
                "note",
                "tooth-pairs-of-ride",
                f"{setup.name}: this ride fits the stated {stated}{_so_would(shown, drive)}.",
            )
        ]
    text = (
        f"{setup.name}: the stated {stated} is {off} off what this ride shows, which tyre and tachometer may just explain. "
        f"{_fits(shown, drive)}: count the teeth."
    )
    return [Finding("note", "tooth-pairs-of-ride", text)]


def _reason(facts: Facts, index: int, shown: Reduction, drive: FinalDrive) -> str:
    """Name the entry of bike.toml that would explain it, and the sprockets that would."""
    bike = facts.folder.bike
    entry = wrong_entry(bike, facts.results[index].setup, shown.apart(drive) or 0.0)
    pairs = f"{_fits(shown, drive)}: count the teeth on both sprockets"
    if entry is None or (entry.kind == "primary" and abs(shown.apart(drive) or 0.0) < _PRIMARY and _NAMES in pairs):
        return f"{pairs}."
    if entry.kind == "primary":
        return (
            f"{pairs}, and look at the primary drive ({entry.fits:.2f} would fit, not {bike.gearbox.primary or 0:.2f})."
        )
    return {
        "primary in gears": "The gears in bike.toml look as if the primary drive were multiplied in already: leave out primary.",
        "unit": "That is the factor between km/h and mph: look at the unit in the header of the speeds.",
        "final drive exchanged": "The sprockets look exchanged: front is the one at the gearbox.",
    }[entry.kind]


def _said(facts: Facts, index: int) -> bool:
    """Tell whether the comparison with another setup has said what is likely fitted."""
    return any(
        names_others(pair)
        for pair in facts.pairs
        if facts.results[index].setup.name in (pair.comparison.reference, pair.comparison.other)
    )


def _no_sprockets(name: str, off: str) -> Finding:
    """Say for a shaft that all gears are off together."""
    text = (
        f"{name}: all gears are {off} off the stated ratios together. Tyre (another make 2–3 %, wear up to 2 %) and tachometer "
        "(up to 3 %) hardly explain that: look at the stated ratios and at the size of the tyre."
    )
    return Finding("warning", "circumference-far-from-nominal", text)


def _fits(shown: Reduction, drive: FinalDrive) -> str:
    """Write the reduction shown, with pairs that have it."""
    low, high = shown.ends()
    text = f"This ride fits rear/front = {math.exp(shown.log_value):.2f} ({low:.2f} to {high:.2f})"
    front = drive.front
    named = [_rears(shown, drive, f) for f in (_USUAL_FRONTS if front is None else (front - 1, front, front + 1))]
    return f"{text}, {_NAMES} {', '.join(filter(None, named))}" if any(named) else text


def _rears(shown: Reduction, drive: FinalDrive, front: int) -> str:
    """Write the rear sprockets that one in front would have."""
    if front not in fronts_sold(drive):
        return ""
    held = [r for r in rears_sold(drive) if shown.holds(front, r) and goes_round(drive, (front, r))]
    if not held:
        return ""
    return f"{front}/{held[0]}" + (f" to {front}/{held[-1]}" if len(held) > 1 else "")


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _so_would(shown: Reduction, drive: FinalDrive) -> str:
    """Name how far the rear sprocket could be from the stated one."""
    front, rear = drive.front or 0, drive.rear or 0
    held = [r for r in rears_sold(drive, rear) if shown.holds(front, r) and goes_round(drive, (front, r))]
    return f"; so would {front}/{held[0]} to {front}/{held[-1]}" if len(held) > 1 else ""
