"""A clutch that may slip: named before teeth are, which look alike and are not to blame then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_list
from gearfit.fitting.ratios.clutch import LOWEST_GEAR, Slip, clutch_slip
from gearfit.fitting.readings.clutch_sheet import sheet_slip
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import Finding, SetupResult
from gearfit.records.words import count, number

#: Findings that put down to teeth or readings what a slipping clutch does as well; of the latter nothing is left to do
#: while the clutch is a suspect.
_IN_DOUBT: Final = (
    "change-disagrees",
    "gear-out-of-line",
    "tooth-pairs",
    "front-sprocket-guess",
    "gear-off-its-teeth",
    "odd-row",
)
_NOTES: Final = ("tooth-pairs", "gear-off-its-teeth")
_AT_ONCE: Final = (
    "It is a suspect and not proved: a driven tyre that spins on loose ground does the same. Look at it first (free play, "
    "oil, plates: the machine's manual), and make no full-throttle run before"
)


def suspects(facts: Facts) -> dict[str, Finding]:
    """Name the clutch of each setup whose engine ran ahead of the road under load, by the setup's name."""
    found = {}
    for ride, fit in zip(facts.folder.setups, facts.fits, strict=True):
        if any(recording.speed_source == "speedometer" for recording in ride.recordings):
            continue  # its own error changes with speed and looks alike
        name = ride.setup.name
        ridden = clutch_slip(fit.timed, fit.ladder) if fit.timed is not None else None
        noted = sheet_slip(fit.sheet)
        if ridden is not None:
            found[name] = _finding(name, ridden, f"in {ridden.pulls} of {count(ridden.of, 'pull')} under high load")
        elif noted is not None:
            where = f"in {noted.pulls} of the {count(noted.of, 'row')} of the sheet under high load"
            found[name] = _finding(name, noted, where, ", as would a tachometer that shows too much at high speed only")
    return found


def _finding(name: str, slip: Slip, where: str, besides: str = "") -> Finding:
    usual, highest = (number(100 * share, 1) for share in (slip.usual, slip.highest))
    size = f"{usual} %" if usual == highest else f"{usual} % (at most {highest} %)"
    text = (
        f"{name}: the clutch may slip. {where[0].upper()}{where[1:]}, in {gear_list(slip.gears)}, the engine ran ahead of the "
        f"road by {size} more than at light load. A slipping clutch does that and makes a gear look shorter{besides}; "
        f"other teeth would show at every load alike. {_AT_ONCE}."
    )
    return Finding("warning", "clutch-suspect", text, name)


def beside(result: SetupResult) -> str:
    """Say what a clutch would do to gears that look shorter; empty where no readings by hand leave it open.

    Rows held at a steady speed seldom load a clutch enough to prove that it slips, and enough for it to slip.
    """
    by_hand = result.samples["time_s"].isna() & (result.samples["gear"] >= LOWEST_GEAR)
    if not by_hand.any() or result.speed_source in INSTRUMENTS:
        return ""
    return (
        f" A clutch of {result.setup.name} that slips under load makes upper gears look shorter as well: take the same gears at "
        "light load before any part is blamed."
    )


def in_doubt(found: Iterable[Finding], suspected: Mapping[str, Finding], setups: Iterable[str]) -> list[Finding]:
    """Say of what was put down to teeth or readings that the clutch of one of these setups may be behind it."""
    names = [name for name in setups if name in suspected]
    if not names:
        return list(found)
    return [_doubted(finding, names) if finding.code in _IN_DOUBT else finding for finding in found]


def _doubted(finding: Finding, names: list[str]) -> Finding:
    text = f"The clutch of {' and '.join(names)} may be behind this, see above. {finding.text}"
    return replace(finding, text=text, severity="note" if finding.code in _NOTES else finding.severity)
