"""Whether the gears of a report are the gears that were ridden."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from tests.validation.notebooks import doubts
from tests.validation.notebooks.printed import Printed
from tests.validation.notebooks.truth import Truth
from tests.validation.notebooks.verdicts import NUMBERING, RIGHT, WRONG, Verdict

#: Rows of two gears are mixed where no gear has more than this share.
LEAST_SHARE: Final = 0.6


def judge_numbering(printed: Printed, truth: Truth) -> Iterator[Verdict]:
    """Judge the gears of the comparison: paired alike in both setups, and numbered as noted.

    Without a note and without a stated gearbox nobody knows the lowest gear ridden, so a number that is off by the
    same step in both setups is right, if the report says that it counts from the lowest.
    """
    comparison = printed.results["comparison"] or {}
    true = {name: _true_gears(printed, truth, name) for name in printed.results["setups"]}
    for gear in (entry["gear"] for entry in comparison.get("gears", [])):
        pair = [true[name].get(gear) for name in (comparison["reference"], comparison["other"])]
        if None in pair:
            yield Verdict(
                NUMBERING, WRONG, f"gear {gear} mixes rows of several gears", f"gears {pair[0]} and {pair[1]}"
            )
            continue
        found = RIGHT
        known = any(truth.noted.values()) or truth.gears_known
        said = doubts.warns_of(printed, doubts.NUMBERING, any_severity=not known)
        if pair[0] != pair[1] or (pair[0] != gear and (known or not said)):
            found = WRONG
        found = doubts.softened(found, printed, [doubts.NUMBERING], doubts.names_slip(printed, truth))
        yield Verdict(NUMBERING, found, f"gear {gear}", f"gears {pair[0]} and {pair[1]}")


def _true_gears(printed: Printed, truth: Truth, name: str) -> dict[int, int | None]:
    """Each printed gear of a setup with the gear in which most of its rows were ridden; None for a mixture."""
    ridden: dict[int, Counter[int]] = {}
    used = printed.samples[(printed.samples["setup"] == name) & printed.samples["gear"].notna()]
    for file, line, gear in zip(used["file"], used["row"].astype(int), used["gear"].astype(int), strict=True):
        if (file, line) in truth.rows:
            ridden.setdefault(gear, Counter())[truth.rows[file, line].true_gear] += 1
    found: dict[int, int | None] = {}
    for gear, counts in ridden.items():
        most, n = counts.most_common(1)[0]
        found[gear] = most if n > LEAST_SHARE * counts.total() or counts.total() <= 2 else None
    return found
