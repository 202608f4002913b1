"""Where the numbers come from, and what that costs."""

from __future__ import annotations

from typing import Final

from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_list
from gearfit.results import Finding

#: Natural log of odds below which the second best numbering of gears is mentioned (20 : 1).
_CLOSE: Final = 3.0
#: A lag below this is not worth a sentence, s.
_LAG_S: Final = 0.05


def find(facts: Facts, index: int) -> list[Finding]:
    """Say where speeds and gears of a setup come from where that limits what they can show."""
    return [*_speeds(facts, index), *_ladder(facts, index), *_clocks(facts, index), *_lag(facts, index)]


def _speeds(facts: Facts, index: int) -> list[Finding]:
    result = facts.results[index]
    name = result.setup.name
    if result.speed_source == "speedometer":
        driven = facts.folder.bike.speedometer.driven_from
        cancels = all(r.speed_source == "speedometer" for r in facts.results)
        cost = (
            "Driven from a wheel, its error cancels in the change between setups but not in circumference or ratios, which "
            "are not given here. Driven from the gearbox, it cannot see the final drive at all."
            if cancels
            else "Its error does not cancel against a setup whose speeds were measured: the change between the setups holds "
            "all of it. Driven from the gearbox, it cannot see the final drive at all."
        )
        return [
            Finding(
                "warning",
                "speedometer-only",
                f"{name}: the speeds are what the speedometer showed (driven from: {driven}). {cost} "
                "Readings from a satellite receiver say more.",
            )
        ]
    if result.speed_source == "position":
        return [
            Finding(
                "note",
                "speed-from-positions",
                f"{name}: the track holds no speeds, so they were derived from positions, which is less sharp than the "
                "receiver's own speed. A recorder that stores speed gives narrower intervals.",
            )
        ]
    return []


def _ladder(facts: Facts, index: int) -> list[Finding]:
    result, fit = facts.results[index], facts.fits[index]
    name = result.setup.name
    if fit.levels is None:
        if not fit.material.streams and fit.material.sheet.rows.size == 0:
            return []
        return [Finding("warning", "no-gears", f"{name}: no gears were found: {fit.reason}.")]
    shift = fit.timed.shift if fit.timed is not None else None
    numbers = gear_list([g.gear for g in result.gears])
    if result.ladder == "from the samples":
        if fit.material.sheet.rows.size and fit.timed is None:
            return []
        return [
            Finding(
                "note",
                "gears-from-samples",
                f"{name}: without tooth counts the gears were found in the samples and numbered from the highest engine "
                f"speed per road speed ({numbers}); a gear that was never ridden would shift the numbers of those above it.",
            )
        ]
    if shift is not None and shift.runner_up is not None and shift.log_odds < _CLOSE:
        return [
            Finding(
                "warning",
                "gear-numbering-uncertain",
                f"{name}: the ladder of gears fits almost as well {100 * abs(shift.runner_up - shift.shift):.0f} % "
                f"{'higher' if shift.runner_up > shift.shift else 'lower'}, so the gears ({numbers}) may be numbered one "
                "off: ride more gears, or state tyre and sprockets.",
            )
        ]
    return []


def _clocks(facts: Facts, index: int) -> list[Finding]:
    name = facts.results[index].setup.name
    return [Finding("note", "recordings-joined", f"{name}: {remark}.") for remark in facts.fits[index].material.remarks]


def _lag(facts: Facts, index: int) -> list[Finding]:
    result = facts.results[index]
    lag = result.lag_s
    if lag is None or abs(lag.value) < _LAG_S or lag.contains(0.0):
        return []
    first, second = ("engine speed", "road speed") if lag.value > 0 else ("road speed", "engine speed")
    return [
        Finding(
            "note",
            "lag",
            f"{result.setup.name}: the log's {first} runs {abs(lag.value):.2f} s ahead of its {second} (95 % interval "
            f"{lag.lo95:+.2f} to {lag.hi95:+.2f} s); this was taken out.",
        )
    ]
