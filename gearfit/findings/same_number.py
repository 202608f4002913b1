"""Readings that are off by the same number in every row, which bends single gears and is no fault of theirs."""

from __future__ import annotations

from typing import Final

from gearfit.findings.facts import Facts
from gearfit.findings.words import speed
from gearfit.fitting.readings.common_errors import RPM, SLIP, SPEED, CommonError
from gearfit.records.results import Finding

#: Half of a 95 % interval in standard errors.
_HALF: Final = 1.96
_WHY: Final = {
    SPEED: "That is most of the speed in first gear and little in top gear, so it looks like a gear that is out of line and is none",
    RPM: "That is most at low engine speeds, so it looks like a gear or a reading that is out of line and is none",
}
_LOOK: Final = {
    SPEED: "Look at what the speeds were read from: a display that adds to what it measures, or another one on one of the rides",
    RPM: "Look at the tachometer, and whether both rides were read from the same one",
}


def find(facts: Facts) -> list[Finding]:
    """Say once which setups' readings are off by the same number in every row, and by how much."""
    found: dict[tuple[int, ...], CommonError] = {}
    for fit in facts.fits:
        if fit.sheet.common is not None and fit.sheet.common.kind != SLIP:
            found[fit.sheet.common.setups] = fit.sheet.common
    return [_finding(facts, error) for error in found.values()]


def _finding(facts: Facts, error: CommonError) -> Finding:
    names = [facts.folder.setups[i].setup.name for i in error.setups]
    more = "more" if error.amount > 0 else "less"
    size = abs(error.amount)
    low, high = (_written(max(0.0, size + sign * _HALF * error.error), error.kind, facts) for sign in (-1, 1))
    text = (
        f"{' and '.join(names)}: the same number in every row: {_written(size, error.kind, facts)} {more} than the others would "
        f"show (95 % interval {low} to {high}). {_WHY[error.kind]}.{_besides(facts, error)} It is taken out of what is told "
        f"here, and the intervals are wider for it. {_LOOK[error.kind]}."
    )
    return Finding("warning", "same-number", text, names[-1])


def _besides(facts: Facts, error: CommonError) -> str:
    """Say what fits nearly as well."""
    others = []
    for kind, setups in error.rivals:
        where = " and ".join(facts.folder.setups[i].setup.name for i in setups)
        what = "a clutch that slips under load" if kind == SLIP else f"the same number in every {kind}"
        others.append(f"{what} of {where}")
    return f" Nearly as well fits {' or '.join(others)}." if others else ""


def _written(amount: float, kind: str, facts: Facts) -> str:
    return speed(amount, facts.speed_unit, 1) if kind == SPEED else f"{amount:.0f} rpm"
