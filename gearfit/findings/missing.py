"""What is missing to say more, and what happened to files on the way in."""

from __future__ import annotations

from dataclasses import replace

from gearfit.findings.facts import Facts
from gearfit.machine.atmosphere import pressure_hpa
from gearfit.machine.bike import Conditions
from gearfit.records.recording import NO_ROWS_YET, Copy
from gearfit.records.results import Finding
from gearfit.records.words import number
from gearfit.timed.air import HOLDS_FROM, HOLDS_TO, power_factor


def find(facts: Facts) -> list[Finding]:
    """Say what is missing and what was left aside."""
    return [*_setups(facts), *_bike(facts), *_timed(facts), *_air(facts), *_files(facts)]


def _setups(facts: Facts) -> list[Finding]:
    if len(facts.results) > 1:
        return []
    name = facts.results[0].setup.name
    other = "after" if name == "before" else "before"
    return [
        Finding(
            "warning",
            "one-setup",
            f"Only the setup {name} has a ride, so nothing is compared: put the other ride's logs into a folder "
            f"named {other} beside it.",
        )
    ]


def _bike(facts: Facts) -> list[Finding]:
    bike = facts.folder.bike
    if not facts.folder.has_bike_file:
        return [
            Finding(
                "note",
                "no-bike-file",
                "There is no bike.toml, so only what the logs alone can say is here: with tooth counts and tyre the report "
                "adds prediction, overall ratios and rolling circumference.",
            )
        ]
    lacking = []
    if bike.gearbox.gears is None and not any(fit.lacking for fit in facts.fits):
        lacking.append("[gearbox] gears")
    if bike.gearbox.primary is None:
        lacking.append("[gearbox] primary")
    if any(r.setup.final_drive.reduction is None for r in facts.results):
        lacking.append("[final_drive] front and rear")
    if any(r.setup.tyre.nominal_circumference_m is None for r in facts.results):
        lacking.append("[tyre] size")
    if not lacking:
        return []
    return [
        Finding(
            "note",
            "bike-file-incomplete",
            f"bike.toml does not state {', '.join(lacking)}: with them the report says more.",
        )
    ]


def _timed(facts: Facts) -> list[Finding]:
    if len(facts.results) < 2 or any(pair.comparison.timed_spans for pair in facts.pairs):
        return []
    return [
        Finding(
            "note",
            "no-timed-runs",
            "No timed runs over the same span in both setups, so nothing is said about being quicker: note them in a "
            "sheet with the columns from_kmh, to_kmh, time_s, at least five in each setup.",
        )
    ]


def _air(facts: Facts) -> list[Finding]:
    """Name a correction to a reference state of the air that cannot be made, or does not hold; alike setups at once."""
    said: dict[Finding, list[str]] = {}
    for result in facts.results:
        if (found := _correction(result.setup.conditions)) is not None:
            said.setdefault(found, []).append(result.setup.name)
    return [replace(found, text=f"{' and '.join(names)}: {found.text}") for found, names in said.items()]


def _correction(conditions: Conditions) -> Finding | None:
    """Say what is wrong with a correction; None where nothing is asked for, or the correction holds."""
    if conditions.correction is None:
        return None
    factor, pressure = power_factor(conditions), pressure_hpa(conditions)
    if factor is None or pressure is None:
        lacking = [] if conditions.temperature_c is not None else ["temperature_c"]
        lacking += [] if pressure is not None else ["pressure_hpa (or altitude_m)"]
        asked = f'[conditions] correction = "{conditions.correction}" needs {" and ".join(lacking)} as well'
        text = f"{asked}: without, no time is corrected. State what is missing in bike.toml."
        return Finding("warning", "correction-without-air", text)
    if HOLDS_FROM <= factor <= HOLDS_TO:
        return None
    air = f"{number(pressure, 0)} hPa and {number(conditions.temperature_c, 0)} °C"
    return Finding(
        "warning",
        "correction-out-of-range",
        f"the correction {conditions.correction} is {number(factor)} at {air}; it holds from {number(HOLDS_FROM)} to "
        f"{number(HOLDS_TO)}. Compare the times as ridden, in like air, and check the figures in [conditions].",
    )


def _files(facts: Facts) -> list[Finding]:
    found = [
        Finding("note" if note.endswith(f"({NO_ROWS_YET}).") else "warning", "file-left-aside", note)
        for note in facts.folder.notes
    ]
    found += [_copy(copy) for copy in facts.folder.copies]
    for fit, result in zip(facts.fits, facts.results, strict=True):
        if result.speedometer is not None and not result.samples["engine_rpm"].notna().any():
            continue  # the instrument alone was looked at, for which no engine speed is needed
        found += [Finding("warning", "recording-not-used", f"{problem}.") for problem in fit.material.problems]
    for ride in facts.folder.setups:
        for recording in ride.recordings:
            found += [Finding("warning", "rows-not-read", f"{recording.file}: {text}") for text in recording.warnings]
            found += [Finding("note", "import", f"{recording.file}: {note}") for note in recording.notes]
    return found


def _copy(copy: Copy) -> Finding:
    if copy.counts_once:
        what = "only readings that stand in" if copy.part else "the same readings as"
        text = f"{copy.file} holds {what} {copy.original} and counts once: remove the one that is the copy."
        return Finding("warning", "same-readings-twice", text)
    what = "readings in common" if copy.part else "the same readings"
    if copy.file == copy.original:
        who = f"The columns or rows of two setups in {copy.file}"
    else:
        who = f"{copy.original} and {copy.file}"
    return Finding(
        "warning",
        "same-readings-in-two-setups",
        f"{who} hold {what}, so that both setups rest on the same ride and differ less than the "
        "machine does: leave each file in the setup in which it was ridden.",
    )
