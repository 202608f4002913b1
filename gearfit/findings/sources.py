"""Where the numbers come from, and what that costs."""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_list, speed
from gearfit.records.results import Finding

#: Natural log of odds below which the second best numbering of gears is mentioned (20 : 1).
_CLOSE: Final = 3.0
#: A lag below this is not worth a sentence, s.
_LAG_S: Final = 0.05
#: Steps of speed at least this coarse are mentioned, m/s.
_COARSE_MPS: Final = 0.1


def find(facts: Facts, index: int) -> list[Finding]:
    """Say where speeds and gears of a setup come from where that limits what they can show."""
    return [
        *_speeds(facts, index),
        *_ladder(facts, index),
        *_by_starts(facts, index),
        *_doubtful(facts, index),
        *_clocks(facts, index),
        *_lag(facts, index),
        *_noise(facts, index),
    ]


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
    if result.speed_source == "machine":
        return [_machine(facts, name)]
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


def _machine(facts: Facts, name: str) -> Finding:
    """Say what speeds of the machine's own are good for, by where they are stated to be taken from."""
    driven = facts.folder.bike.speedometer.driven_from
    cancels = all(result.speed_source == "machine" for result in facts.results)
    said = f"{name}: the speeds are the machine's own (vehicle, wheel, OBD or ECU speed; driven from: {driven})"
    if driven == "gearbox output":
        cost = (
            "Taken from the gearbox, they cannot see the final drive at all: neither change nor teeth nor circumference "
            "follow from them."
        )
    elif facts.folder.bike.speedometer.at_wheel:
        cost = (
            "Taken from a wheel, they may be off by some per cent, which cancels in the change between setups and is in "
            "the intervals of circumference and ratios."
        )
    else:
        cost = (
            "They may be off by some per cent, which cancels in the change between setups but not in circumference or "
            "ratios, which are not given here. Taken from the gearbox, they cannot see the final drive at all: state "
            "driven_from under [speedometer] in bike.toml."
        )
    times = "Times to a speed are times to what the machine says"
    if not facts.folder.bike.speedometer.at_wheel:
        times += "; runs found in the ride are compared only where the change follows the teeth"
    if not cancels:
        cost += " Against a setup whose speeds were measured their error does not cancel: it is in the interval of the change."
    return Finding(
        "note" if cancels and driven != "gearbox output" else "warning",
        "machine-speed",
        f"{said}. {cost} {times}. A satellite receiver says more.",
    )


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
            *_used_once(name, fit.timed is not None and fit.timed.by_runs),
            *_skipped(name, [g.gear for g in result.gears]),
            Finding(
                "note",
                "gears-from-samples",
                f"{name}: without tooth counts the gears were found in the samples and numbered from the highest engine "
                f"speed per road speed ({numbers}); a gear that was never ridden would shift the numbers of those above it.",
            ),
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


def _used_once(name: str, by_runs: bool) -> list[Finding]:
    """Warn of steps that a short ride shows once each."""
    if not by_runs:
        return []
    return [
        Finding(
            "warning",
            "gear-uncertain",
            f"{name}: the ride is short and its steps may have been used once each: stretches in which the ratio stays put "
            "were taken for gears, counted from the lowest that is seen; one used for a second or less may be missing. It does not show the lag between engine speed and road speed, so "
            "that of an ordinary logger was taken, which widens the intervals. State the gearbox, or use each gear twice and "
            "hold it for ten seconds.",
        )
    ]


def _skipped(name: str, gears: list[int]) -> list[Finding]:
    """Name the gears between others that the ride does not show."""
    missing = sorted(set(range(gears[0], gears[-1])) - set(gears)) if gears else []
    if not missing:
        return []
    return [
        Finding(
            "warning",
            "gear-numbering-uncertain",
            f"{name}: the steps leave room for {gear_list(missing)}, which the ride does not show, so those above are "
            "numbered as if it were there; if the gearbox has none there, they are numbered one too high. Ride every gear, "
            "or state the gearbox.",
        )
    ]


def _by_starts(facts: Facts, index: int) -> list[Finding]:
    name = facts.results[index].setup.name
    if not facts.results[index].gears_by_starts:
        return []
    return [
        Finding(
            "note",
            "gears-from-starts",
            f"{name}: the ride is too short, or too much of it is starts and shifts, to show the lag between engine speed and "
            "road speed by itself, so lag and gears were found together with the stated ratios, which is less sharp. Some "
            "minutes of ordinary riding in the same log narrow the intervals several times.",
        )
    ]


def _doubtful(facts: Facts, index: int) -> list[Finding]:
    """Name the steps that were seen too briefly to be called gears."""
    timed, name = facts.fits[index].timed, facts.results[index].setup.name
    if timed is None or timed.doubtful.size == 0:
        return []
    rpm = facts.reference_rpm()
    speeds = " and ".join(speed(rpm / float(np.exp(level)), facts.speed_unit) for level in timed.doubtful)
    return [
        Finding(
            "warning",
            "gear-uncertain",
            f"{name}: a further step, which gives {speeds} at {rpm:.0f} rpm, is no sure gear: it was engaged once and too "
            "briefly to tell a gear from a slow clutch, with the engine idling, or where its neighbours leave no room for "
            "one. It is not counted. Hold that gear for ten seconds, or use it twice, to settle it.",
        )
    ]


def _noise(facts: Facts, index: int) -> list[Finding]:
    """Say how noisy the channels are: that is what the intervals are made of."""
    name, unit = facts.results[index].setup.name, facts.speed_unit
    found = []
    for noise in facts.results[index].noise:
        steps = ""
        if noise.speed_step_mps is not None and noise.speed_step_mps >= _COARSE_MPS:
            cut = noise.speed_raised_mps / noise.speed_step_mps
            steps = f"; speeds stand in steps of {speed(noise.speed_step_mps, unit, 1)}" + (
                ", cut down, so half a step was added"
                if cut > 0.4
                else ", rounded"
                if cut < 0.1
                else ", rounded or cut down"
            )
        found.append(
            Finding(
                "note",
                "noise",
                f"{name}: in {noise.file} the speed errs by {speed(noise.speed_white_mps, unit, 2)} from sample to sample and "
                f"by {speed(noise.speed_correlated_mps, unit, 2)} for about {noise.correlation_s:.1f} s at a time, engine speed "
                f"by {100 * noise.engine_relative:.1f} % (standard deviations, as the samples in gear show them); speed comes "
                f"every {noise.speed_interval_s:.2g} s, engine speed every {noise.engine_interval_s:.2g} s{steps}.",
            )
        )
    return found


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
