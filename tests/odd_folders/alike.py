"""Where the reports on two spellings of one ride differ."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from tests.odd_folders.folders import write
from tests.odd_folders.outcome import Outcome, outcome
from tests.odd_folders.spellings import CLOSE, INVERTED, SAME, Pair

#: Numbers in results.json have nine figures; sums taken in another order differ in the last ones.
#: Larger numbers of seconds have fewer digits behind the point, and the search for the lag ends at another of them.
TOLERANCES: Final = {SAME: (1e-7, 1e-8), CLOSE: (1e-2, 1e-4)}
#: Share of the half-width of an interval by which two reports may differ where a log was cut in two.
NEAR_SHARE: Final = 0.75
#: What differs rightly: the step in which speeds are written in a unit, and notes on columns that are not used.
OWN_KEYS: Final = ("findings", "speed_step_mps")
OWN_CODES: Final = ("note import",)


def differences(two: Pair, pictures: bool = False) -> list[str]:
    """Report on both folders and compare."""
    found = []
    for files in (two.one, two.other):
        with TemporaryDirectory() as place:
            found.append(outcome(write(files, Path(place)), pictures))
    one, other = found
    if faults := [each.fault for each in found if each.fault]:
        return faults
    if one.refusal or other.refusal:
        return [] if one.refusal and other.refusal else [f"one is refused: {one.refusal or other.refusal}"]
    if two.agree == INVERTED:
        return list(_not_inverted(one.results, other.results))
    if two.agree not in TOLERANCES:
        return list(_not_near(one.results, other.results))
    return list(_not_same(one, other, TOLERANCES[two.agree]))


def _not_same(one: Outcome, other: Outcome, tolerance: tuple[float, float]) -> Iterator[str]:
    yield from numbers("", _in_order(one.results), _in_order(other.results), tolerance)
    if (left := codes(one.results)) != (right := codes(other.results)):
        yield f"findings {sorted(set(left) ^ set(right)) or 'in another order'}"
    for a, b in zip(one.lines, other.lines, strict=False):
        if a != b and "readings" not in a and not a.startswith("The report has"):
            yield f"lines {a!r} and {b!r}"


def codes(results: dict[str, Any]) -> list[str]:
    """Return severity and code of each finding, each once, but for those that tell of the files."""
    found = dict.fromkeys(f"{finding['severity']} {finding['code']}" for finding in results["findings"])
    return [code for code in found if code not in OWN_CODES]


def numbers(where: str, one: Any, other: Any, tolerance: tuple[float, float]) -> Iterator[str]:
    """Tell which numbers of two results differ; texts are compared by their codes elsewhere."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in dict.fromkeys([*one, *other]):
            if key not in OWN_KEYS:
                yield from numbers(f"{where}.{key}", one.get(key), other.get(key), tolerance)
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for k, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from numbers(f"{where}[{k}]", a, b, tolerance)
    elif isinstance(one, float | int) and isinstance(other, float | int):
        if not math.isclose(one, other, rel_tol=tolerance[0], abs_tol=tolerance[1]):
            yield f"{where} {one} and {other}"
    elif not (isinstance(one, str) and isinstance(other, str)) and one != other:
        yield f"{where} {str(one)[:40]} and {str(other)[:40]}"


def _in_order(results: dict[str, Any]) -> dict[str, Any]:
    """Put the runs of each setup in one order: that of the file is none that counts."""
    setups = {
        name: {**setup, "timed_spans": sorted(setup["timed_spans"], key=lambda span: str(span["time_s"]))}
        for name, setup in results["setups"].items()
    }
    return {**results, "setups": setups}


def _changes(results: dict[str, Any]) -> dict[str, dict[str, float]]:
    """Return the estimates of the change, of all gears and of each."""
    comparison = results["comparison"] or {}
    found = {"all gears": comparison.get("all_gears_change_percent")}
    found |= {f"gear {gear['gear']}": gear["change_percent"] for gear in comparison.get("gears", [])}
    return {name: estimate for name, estimate in found.items() if estimate}


def _not_inverted(one: dict[str, Any], other: dict[str, Any]) -> Iterator[str]:
    left, right = _changes(one), _changes(other)
    for name in dict.fromkeys([*left, *right]):
        if name not in left or name not in right:
            yield f"{name}: a change on one side only"
            continue
        for a, b in (("value", "value"), ("lo95", "hi95"), ("hi95", "lo95")):
            back = 100 * (1 / (1 + right[name][b] / 100) - 1)
            if not math.isclose(left[name][a], back, rel_tol=1e-6, abs_tol=1e-6):
                yield f"{name} {a}: {left[name][a]} and, inverted, {back}"


def _not_near(one: dict[str, Any], other: dict[str, Any]) -> Iterator[str]:
    left, right = _changes(one), _changes(other)
    for name in set(left) & set(right):
        half = max((each[name]["hi95"] - each[name]["lo95"]) / 2 for each in (left, right))
        if abs(left[name]["value"] - right[name]["value"]) > NEAR_SHARE * half:
            yield f"{name}: {left[name]} and {right[name]}"
