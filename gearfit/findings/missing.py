"""What is missing to say more, and what happened to files on the way in."""

from __future__ import annotations

from gearfit.findings.facts import Facts
from gearfit.recording import NO_ROWS_YET
from gearfit.results import Finding


def find(facts: Facts) -> list[Finding]:
    """Say what is missing and what was left aside."""
    return [*_setups(facts), *_bike(facts), *_timed(facts), *_files(facts)]


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
    if bike.gearbox.gears is None:
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


def _files(facts: Facts) -> list[Finding]:
    found = [
        Finding("note" if note.endswith(f"({NO_ROWS_YET}).") else "warning", "file-left-aside", note)
        for note in facts.folder.notes
    ]
    for fit, result in zip(facts.fits, facts.results, strict=True):
        if result.speedometer is not None and not result.samples["engine_rpm"].notna().any():
            continue  # the instrument alone was looked at, for which no engine speed is needed
        found += [Finding("warning", "recording-not-used", f"{problem}.") for problem in fit.material.problems]
    for ride in facts.folder.setups:
        for recording in ride.recordings:
            found += [Finding("note", "import", f"{recording.file}: {note}") for note in recording.notes]
    return found
