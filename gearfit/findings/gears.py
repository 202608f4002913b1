"""Which single gear or reading does not agree with the rest."""

from __future__ import annotations

import numpy as np

from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import gear_name, percent, percent_with_interval, speed
from gearfit.results import Finding


def out_of_line(facts: Facts, pair: Pair) -> list[Finding]:
    """Name the gears whose change differs from that of the others by more than chance over all gears."""
    agreement = pair.shift.agreement
    if agreement is None:
        return []
    found = []
    for i, gear in enumerate(pair.comparison.gears):
        if agreement.agrees[i]:
            continue
        z = abs(agreement.departure[i]) / agreement.departure_se[i]
        common = 100 * np.expm1(np.log1p(gear.change_percent.value / 100) - agreement.departure[i])
        two = len(pair.comparison.gears) == 2
        text = (
            f"{gear_name(gear.gear).capitalize()} changed by {percent_with_interval(gear.change_percent)} where "
            f"{'the other' if two else 'the others'} changed by {percent(common, 1)}: {z:.1f} standard errors out of line, "
            "and no change of the final drive moves one gear alone."
        )
        places = _places(facts, pair, gear.gear)
        if not agreement.agrees.any():
            text += " It cannot be said which gear is wrong" + (f"; look at {places}." if places else ".")
        elif places:
            text += f" One of its readings is likely wrong; look at {places}."
        found.append(Finding("warning", "gear-out-of-line", text))
    return found


def _places(facts: Facts, pair: Pair, gear: int) -> str:
    """Name the sheet rows behind a gear of both setups, where it rests on few."""
    places = []
    for result in (pair.reference, pair.other):
        rows = result.samples[(result.samples["gear"] == gear) & result.samples["time_s"].isna()]
        for file, row, rpm, speed_mps in zip(
            rows["file"], rows["row"], rows["engine_rpm"], rows["speed_mps"], strict=True
        ):
            places.append(f"{file} line {row} ({rpm:.0f} rpm, {speed(speed_mps, facts.speed_unit, 1)})")
    return " and ".join(places) if 0 < len(places) <= 4 else ""


def odd_rows(facts: Facts, index: int) -> list[Finding]:
    """Point at the rows of a sheet that the other readings contradict."""
    result, unit = facts.results[index], facts.speed_unit
    odd_positions = {(o.file, o.row) for o in result.outlying_rows}
    set_aside = result.samples[result.samples["left_out"].str.startswith("out of line")]
    left_out = set(zip(set_aside["file"], set_aside["row"], strict=True)) & odd_positions
    found = []
    for odd in result.outlying_rows:
        rest = (
            "It was left out." if (odd.file, odd.row) in left_out else "It is the only one in its gear, so it was kept."
        )
        found.append(
            Finding(
                "warning",
                "odd-row",
                f"{odd.file}, line {odd.row}: {odd.engine_rpm:.0f} rpm in {gear_name(odd.gear)} was noted as "
                f"{speed(odd.speed_mps, unit, 1)}, where the other readings lead to {speed(odd.expected_mps, unit, 1)} "
                f"({odd.z:.1f} standard errors away): a misreading, or another gear. {rest}",
            )
        )
    return found
