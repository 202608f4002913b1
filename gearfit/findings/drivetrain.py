"""Fitted circumference against nominal, sprockets that a ride shows, and gears against their tooth counts."""

from __future__ import annotations

from statistics import median
from typing import Final

from gearfit.comparison.wrong_entry import mistyped_teeth
from gearfit.findings import clutch, ride_teeth
from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_list, gear_name, percent, percent_with_interval
from gearfit.fitting.ratios.clutch import LOWEST_GEAR
from gearfit.machine.tyre import likely
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import Circumference, Estimate, Finding, SetupResult
from gearfit.units import SECONDS_PER_MINUTE

#: Beyond this share a circumference is further from nominal than tyres of one size are (our assumption).
_FAR: Final = 0.04
#: More gears than this are not mistyped one by one: it is another gearbox.
_MOST_MISTYPED: Final = 1


def find(facts: Facts, index: int) -> list[Finding]:
    """Say what circumference was fitted, which teeth fit, and which gears do not agree with their tooth counts."""
    result = facts.results[index]
    found: list[Finding] = []
    if result.circumference is not None:
        found.append(_circumference(result, result.circumference))
    elif result.setup.tyre.nominal_circumference_m is None:
        found += _unlikely(result)
    found += ride_teeth.find(facts, index)
    odd = {row.gear for row in result.outlying_rows} | set(_mistyped(facts))
    for gear in result.gears:
        if gear.consistent is False and gear.deviation_percent is not None and gear.gear not in odd:
            short = gear.gear >= LOWEST_GEAR and gear.deviation_percent.value > 0
            found.append(
                Finding(
                    "warning",
                    "gear-off-its-teeth",
                    f"{result.setup.name}: {gear_name(gear.gear)} is {percent_with_interval(gear.deviation_percent)} off "
                    "the ratio that its tooth counts give next to the other gears: check the counts in bike.toml, and "
                    f"whether its samples are clean.{clutch.beside(result) if short else ''}",
                )
            )
    return found


def _unlikely(result: SetupResult) -> list[Finding]:
    """Say why no circumference is given where the stated ratios would make it one that no motorcycle has."""
    metres = [
        SECONDS_PER_MINUTE * gear.speed_per_1000rpm_mps.value * gear.nominal_overall_ratio / 1000
        for gear in result.gears
        if gear.nominal_overall_ratio is not None
    ]
    if not metres or result.speed_source in INSTRUMENTS or likely(median(metres)):
        return []
    text = (
        f"{result.setup.name}: with the stated ratios a turn of the wheel would be {median(metres):.1f} m, which no motorcycle's is, "
        "so no circumference is given. Look at primary drive (is it in the gears already?), gears and the unit of the speeds."
    )
    return [Finding("warning", "circumference-unlikely", text)]


def mistyped(facts: Facts) -> list[Finding]:
    """Say once which stated ratio of a gear no ride agrees with, and what would fit."""
    if len(_mistyped(facts)) > _MOST_MISTYPED:
        text = (
            f"bike.toml's ratios of {gear_list(list(_mistyped(facts)))} fit none of the setups next to the other gears: is it "
            "the gearbox of this machine? The change does not rest on it."
        )
        return [Finding("warning", "gear-off-its-teeth", text)]
    return [
        Finding(
            "warning",
            "gear-off-its-teeth",
            f"bike.toml states {stated:.3f} for {gear_name(gear)}; {fits.value:.3f} (95 % interval {fits.lo95:.3f} to "
            f"{fits.hi95:.3f}) would fit every setup{_as_teeth(stated, fits)}. The change does not rest on it.",
        )
        for gear, (stated, fits) in _mistyped(facts).items()
    ]


def _as_teeth(stated: float, fits: Estimate) -> str:
    pairs = mistyped_teeth(stated, fits.value, (fits.hi95 - fits.lo95) / 2 / fits.value)
    return f": {' or '.join(pairs)} teeth" if pairs else ""


def _mistyped(facts: Facts) -> dict[int, tuple[float, Estimate]]:
    """Find the gears whose stated ratio is off alike in every setup, two at least: as stated, and what would fit."""
    ratios = facts.folder.bike.gearbox.gears
    if ratios is None:
        return {}
    found = {}
    for number, stated in enumerate(ratios, start=1):
        shown = [g for r in facts.results for g in r.gears if g.gear == number and g.deviation_percent is not None]
        off = [g.deviation_percent for g in shown if g.consistent is False and g.deviation_percent is not None]
        if len(off) < 2 or len(off) < len(shown):
            continue
        weights = [1 / e.se**2 for e in off]
        value = sum(w * e.value for w, e in zip(weights, off, strict=True)) / sum(weights)
        half = min(e.hi95 - e.lo95 for e in off) / 2
        if all(e.lo95 <= value <= e.hi95 for e in off):
            low, middle, high = (stated * (1 + p / 100) for p in (value - half, value, value + half))
            found[number] = (stated, Estimate(middle, stated * sum(weights) ** -0.5 / 100, low, high))
    return found


def _every_row(result: SetupResult) -> str:
    """Say what the same error in every reading by hand does, which one engine speed a gear cannot show."""
    by_hand = result.samples["time_s"].isna() & (result.samples["gear"] > 0)
    if not by_hand.any():
        return ""
    rpm = 5 * round(float(result.samples.loc[by_hand, "engine_rpm"].median()) / 100 / 5)
    return f", as is the same {rpm} rpm too many in every row (of the change little is left, where both rides have it)"


def _circumference(result: SetupResult, found: Circumference) -> Finding:
    e = found.estimate_m
    text = f"{result.setup.name}: rolling circumference {e.value:.3f} m (95 % interval {e.lo95:.3f} to {e.hi95:.3f} m)"
    rests = f"It rests on {found.rests_on}{_every_row(result)}."
    if found.nominal_m is None:
        return Finding("note", "circumference", f"{text}. {rests}")
    apart = e.value / found.nominal_m - 1
    text += f", {percent(100 * apart, 1)} from the nominal {found.nominal_m:.3f} m."
    if abs(apart) <= _FAR or e.contains(found.nominal_m):
        return Finding("note", "circumference", f"{text} {rests}")
    doubt = "That is more than tyres of one size differ (2–3 %): look at tyre size, teeth and primary drive before you use it."
    return Finding("warning", "circumference-far-from-nominal", f"{text} {doubt} {rests}")
