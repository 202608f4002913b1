"""Which single gear or reading does not agree with the rest."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from gearfit.findings import clutch
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import gear_list, gear_name, percent, percent_with_interval, speed
from gearfit.fitting.gathering.streams import UNCLEAR_GEAR
from gearfit.fitting.ratios.clutch import LOWEST_GEAR
from gearfit.fitting.which_gear.numbering import SURE
from gearfit.records.results import Finding, OutlyingRow, SetupResult
from gearfit.records.words import count
from gearfit.units import from_mps

#: A row may belong to another gear when it lies within this of that gear's speed per engine speed, share (ours).
_SAME_GEAR: Final = 0.02
#: A reading this near to a whole number was written as one, in the reader's unit.
_WHOLE: Final = 0.01
#: Nobody reads a tachometer finer than this, rev/min (our assumption).
_TO_RPM: Final = 10


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
        text += _which(facts, pair, gear.gear, common, sure=bool(agreement.agrees.any()))
        if gear.gear >= LOWEST_GEAR:
            text += clutch.beside(pair.other if agreement.departure[i] < 0 else pair.reference)
        found.append(Finding("warning", "gear-out-of-line", text))
    return found


def suspected(facts: Facts, pair: Pair) -> list[Finding]:
    """Name the gear that alone keeps the others from agreeing with the prediction, where chance might do as much."""
    gear, predicted = pair.shift.suspect, pair.comparison.predicted_change_percent
    if gear is None or predicted is None:
        return []
    text = (
        f"Without {gear_name(gear)} the gears agree with each other and with the teeth ({percent(predicted, 1)}): look at "
        f"{gear_name(gear)} first."
    )
    return [Finding("warning", "gear-suspected", text + _which(facts, pair, gear, predicted, sure=True))]


def _which(facts: Facts, pair: Pair, gear: int, common_percent: float, *, sure: bool) -> str:
    """Name the rows behind a gear of both setups, where it rests on one each, and what would fit instead."""
    rows = [_rows(result, gear) for result in (pair.reference, pair.other)]
    if any(len(each) > 2 for each in rows) or not any(rows):
        return "" if sure else " It cannot be said which gear is wrong."
    places = " and ".join(
        f"{row.file} line {row.row} ({row.engine_rpm:.0f} rpm, {_as_read(row.speed_mps, row.speed_mps, facts.speed_unit)})"
        for each in rows
        for row in each
    )
    if not sure:
        return f" It cannot be said which gear is wrong; look at {places}."
    text = f" One of its readings is likely wrong; look at {places}."
    if [len(each) for each in rows] == [1, 1]:
        before, after = rows[0][0], rows[1][0]
        factor = 1 + common_percent / 100
        fits = (
            after.speed_mps / after.engine_rpm / factor * before.engine_rpm,
            before.speed_mps / before.engine_rpm * factor * after.engine_rpm,
        )
        in_first, in_second = (
            _as_read(v, row.speed_mps, facts.speed_unit) for v, row in zip(fits, (before, after), strict=True)
        )
        text += f" {in_first} would fit in the first, or {in_second} in the second."
    return text


def _rows(result: SetupResult, gear: int) -> list[_Row]:
    rows = result.samples[(result.samples["gear"] == gear) & result.samples["time_s"].isna()]
    return [
        _Row(*entry) for entry in zip(rows["file"], rows["row"], rows["engine_rpm"], rows["speed_mps"], strict=True)
    ]


class _Row(NamedTuple):
    """A row of a sheet."""

    file: str
    row: int
    engine_rpm: float
    speed_mps: float


def odd_rows(facts: Facts, index: int) -> list[Finding]:
    """Point at the rows of a sheet that the other readings contradict, and say what would fit."""
    result, unit = facts.results[index], facts.speed_unit
    lies_in = _misnoted(facts, index)
    found = []
    for odd in result.outlying_rows:
        if (odd.file, odd.row) in lies_in:
            found.append(_wrong_gear(odd, lies_in[odd.file, odd.row], unit))
            continue
        would_fit_rpm = _TO_RPM * round(odd.engine_rpm * odd.speed_mps / odd.expected_mps / _TO_RPM)
        text = (
            f"{odd.file}, line {odd.row}: {_as_read(odd.expected_mps, odd.speed_mps, unit)} would fit the other readings, not "
            f"{_as_read(odd.speed_mps, odd.speed_mps, unit)} at {odd.engine_rpm:.0f} rpm in {gear_name(odd.gear)} (or "
            f"{would_fit_rpm:.0f} rpm at that speed{_another_gear(result, odd)}). The row is excluded."
        )
        found.append(Finding("warning", "odd-row", text))
    return found


def _misnoted(facts: Facts, index: int) -> dict[tuple[str, int], int]:
    """Rows that were noted under a wrong gear, each with the gear where it lies."""
    fit = facts.fits[index]
    rows = fit.material.table[["file", "row"]].iloc[[fit.material.sheet.rows[m.position] for m in fit.misnoted]]
    places = zip(rows["file"].astype(str), rows["row"].astype(int), strict=True)
    return {place: m.lies_in for place, m in zip(places, fit.misnoted, strict=True)}


def _wrong_gear(odd: OutlyingRow, lies_in: int, unit: str) -> Finding:
    noted = gear_name(odd.gear)
    text = (
        f"{odd.file}, line {odd.row}: noted as {noted}, but lies where {gear_name(lies_in)} is: at {odd.engine_rpm:.0f} rpm "
        f"{noted} would be {_as_read(odd.expected_mps, odd.speed_mps, unit)}, not {_as_read(odd.speed_mps, odd.speed_mps, unit)}. "
        "The row is excluded from both. Correct the gear or the reading if you know which is wrong."
    )
    return Finding("warning", "odd-row", text)


def _as_read(speed_mps: float, read_mps: float, unit: str) -> str:
    """Write a speed with as many decimals as the reading beside it has, one at the most."""
    read = from_mps(read_mps, unit)
    return speed(speed_mps, unit, 0 if abs(read - round(read)) < _WHOLE else 1)


def _another_gear(result: SetupResult, odd: OutlyingRow) -> str:
    """Name the gear in which a row would be right."""
    per_1000 = 1000 * odd.speed_mps / odd.engine_rpm
    for gear in result.gears:
        s = gear.speed_per_1000rpm_mps
        if gear.gear != odd.gear and abs(per_1000 / s.value - 1) < _SAME_GEAR:
            return f", or {gear_name(gear.gear)}"
    return ""


def numbering(facts: Facts, index: int) -> list[Finding]:
    """Say where readings without a noted gear may belong to another gear, are counted, or belong to none."""
    return [*_uncertain(facts, index), *_counted(facts, index), *_doubled(facts, index), *_unplaced(facts, index)]


def lacking(facts: Facts) -> list[Finding]:
    """Say that the stated gearbox has fewer gears than the sheets show."""
    shown = [(fit, fit.lacking) for fit in facts.fits if fit.lacking is not None]
    if not shown:
        return []
    first, found = next((fit, found) for fit, found in shown if found.rows)
    row = first.material.table.iloc[first.material.sheet.rows[found.rows[0]]]
    place = f"{row['file']}, line {row['row']}"
    what = (
        f"but {place} notes {gear_name(int(first.material.sheet.stated_gear[found.rows[0]]))}"
        if found.noted
        else f"but readings without a noted gear lie where it has none (the first: {place})"
    )
    text = (
        f"bike.toml states {count(found.stated, 'gear')}, {what}: a gear is missing in its gearbox, or one is wrong. Its ratios are "
        "not used, neither for numbering gears nor for a circumference. Check them against the manual, and write the gear into "
        "each row (column gear)."
    )
    return [Finding("warning", "gearbox-lacks-gear", text)]


def _counted(facts: Facts, index: int) -> list[Finding]:
    """Say that gears are counted from the lowest of the readings where nothing says which they are."""
    fit, result = facts.fits[index], facts.results[index]
    if fit.ladder is not None or not result.gears or fit.timed is not None:
        return []
    if any(np.nan_to_num(f.material.sheet.stated_gear).any() for f in facts.fits):
        return []
    text = (
        f"{result.setup.name}: no gears were noted, so they are numbered from the lowest that was held: what is called "
        f"{gear_name(result.gears[0].gear)} here may be another. Write the gear into each row (column gear)."
    )
    return [Finding("warning", "gears-counted", text)]


def _doubled(facts: Facts, index: int) -> list[Finding]:
    """Say that one row more than usual lies in a gear where a gear between has none, of rows without a noted gear."""
    fit, result = facts.fits[index], facts.results[index]
    if fit.timed is not None or np.nan_to_num(fit.material.sheet.stated_gear).any():
        return []
    counts = result.samples["gear"].value_counts()
    held = counts[counts.index > 0].sort_index()
    if held.empty:
        return []
    empty = sorted(set(range(int(held.index[0]), int(held.index[-1]))) - set(held.index))
    more = [int(gear) for gear in held.index[held > held.median()]]
    if not empty or not more:
        return []
    text = (
        f"{result.setup.name}: no reading lies in {gear_list(empty)}, and more than in the others in {gear_list(more)}. One may be "
        "misread so that it lies in another gear: write beside each row which gear it was (column gear)."
    )
    return [Finding("warning", "gear-without-reading", text, result.setup.name)]


def _unplaced(facts: Facts, index: int) -> list[Finding]:
    """Name the readings that belong to no gear, or to one of two."""
    samples = facts.results[index].samples
    rows = samples[samples["left_out"] == UNCLEAR_GEAR]
    if rows.empty:
        return []
    first = rows.iloc[0]
    text = (
        f"{count(len(rows), 'reading')} without a noted gear could not be given one (the first: {first['file']}, line "
        f"{first['row']}): write the gear into each row (column gear)."
    )
    return [Finding("warning", "rows-not-placed", text)]


def _uncertain(facts: Facts, index: int) -> list[Finding]:
    fit, name = facts.fits[index], facts.results[index].setup.name
    away = fit.numbering.runner_up_percent
    if fit.numbering.log_odds >= SURE or away is None:
        return []
    text = (
        f"{name}: the readings without a gear fit the gears nearly as well {away:.0f} % away, so they may be numbered one off: "
        "write the gear into each row (column gear). No circumference is given until then."
    )
    return [Finding("warning", "gear-numbering-uncertain", text)]
