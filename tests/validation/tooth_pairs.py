"""Study of the tooth pairs: what is named, and who is accused wrongly.

Run by hand: ``python -m tests.validation.tooth_pairs --bikes 500 --first-seed 5000``. Each invented bike has a gearbox,
a tyre whose circumference is 2 % (standard deviation) off what its size says, a tachometer anywhere within 3 %, and two
rides whose change is measured to 0.05 to 0.4 % and differs by 0.15 % from ride to ride anyway. Truth is drawn without
looking at the weights that gearfit gives pairs beforehand.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from gearfit.comparison.shift import shift
from gearfit.comparison.shown_reduction import shown_reduction
from gearfit.comparison.tooth_pairs import check_pairs
from gearfit.fitting.ratios.levels import Levels
from gearfit.machine.bike import Bike, FinalDrive, Gearbox, Setup, Tyre
from gearfit.prediction.gearing import change_percent
from gearfit.records.results import SprocketCheck

Teeth = tuple[int, int]

#: From here on a combination is named alone, as gearfit.findings.tooth_pairs does.
NAMED: Final = 0.8
HEAD: Final = (
    *("truth", "true pairs named", "true pairs listed", "wrong pairs named", "wrong statement held likely"),
    *("statement doubted", "no pair"),
)
#: Nobody changes sprockets for less, ln.
LEAST_CHANGE: Final = 0.015
#: Truths: what is said of them, and what happened to the tyre.
KINDS: Final = (
    "all as stated",
    "wrong before",
    "wrong after",
    "wrong in both alike",
    "exchanged",
    "tyre changed by 1-2 %",
)


@dataclass(frozen=True)
class Case:
    """One bike: stated and true teeth (before, after), and ln of what the tyre did unsaid."""

    stated: tuple[Teeth, Teeth]
    true: tuple[Teeth, Teeth]
    tyre: float


@dataclass(frozen=True)
class Outcome:
    """What is said of one bike.

    Attributes
    ----------
    named : tuple of Teeth or None
        The combination named alone, or None.
    right : bool
        Whether the truth is among those listed.
    accused : bool
        Whether other teeth than stated are named, the setups are said to be exchanged, or a ride is said not to fit.
    none : bool
        Whether no pair is said to fit.
    """

    named: tuple[Teeth, Teeth] | None
    right: bool
    accused: bool
    none: bool


def case(kind: str, rng: np.random.Generator) -> Case:
    """Draw a bike of one kind."""
    before = int(rng.integers(13, 18)), int(rng.integers(38, 53))
    after = _changed(before, rng)
    while abs(math.log(after[0] * before[1] / (after[1] * before[0]))) < LEAST_CHANGE:
        after = _changed(before, rng)
    if kind == "exchanged":
        return Case((before, after), (after, before), 0.0)
    if kind == "tyre changed by 1-2 %":
        return Case((before, after), (before, after), float(rng.choice([-1, 1]) * rng.uniform(0.01, 0.02)))
    if kind == "wrong before":
        return Case((_miscounted(before, rng), after), (before, after), 0.0)
    if kind == "wrong after":
        return Case((before, _miscounted(after, rng)), (before, after), 0.0)
    if kind == "wrong in both alike":
        off = int(rng.choice([-3, -2, 2, 3]))
        return Case(tuple((f, r + off) for f, r in (before, after)), (before, after), 0.0)  # type: ignore[arg-type]
    return Case((before, after), (before, after), 0.0)


def _changed(pair: Teeth, rng: np.random.Generator) -> Teeth:
    """One tooth or two at the front, or up to six at the rear, or (one in eight) both."""
    front, rear = pair
    which = rng.random()
    if which < 0.5 or which > 0.875:
        front += int(rng.choice([-2, -1, -1, 1, 1]))
    if which >= 0.5:
        rear += int(rng.choice([-6, -5, -4, -3, -2, 2, 3, 4, 5, 6]))
    return front, rear


def _miscounted(pair: Teeth, rng: np.random.Generator) -> Teeth:
    front, rear = pair
    if rng.random() < 0.5:
        return front + int(rng.choice([-1, 1])), rear
    return front, rear + int(rng.choice([-3, -2, -1, 1, 2, 3]))


def look(drawn: Case, rng: np.random.Generator) -> Outcome:
    """Ride both setups of a bike, and say what gearfit says."""
    gears = tuple(2.6 * np.exp(-np.cumsum([0.0, 0.36, 0.24, 0.18, 0.13, 0.1]) * rng.uniform(0.9, 1.1)))
    tyre = Tyre(size="140/70-17")
    bike = Bike(gearbox=Gearbox(float(rng.uniform(1.8, 3.2)), gears), tyre=tyre)
    nominal_m = tyre.nominal_circumference_m or 1.0
    departure = 0.02 * rng.standard_normal() + rng.uniform(-0.03, 0.03)
    se, ride_to_ride = rng.uniform(0.0005, 0.004), 0.0015 * rng.standard_normal()
    setups, levels = [], []
    for k, (stated, true) in enumerate(zip(drawn.stated, drawn.true, strict=True)):
        setup = Setup("before" if k == 0 else "after", FinalDrive(front=stated[0], rear=stated[1]), tyre)
        truly = replace(setup, final_drive=FinalDrive(front=true[0], rear=true[1]))
        circumference = math.log(nominal_m / 60) + departure + k * (drawn.tyre + ride_to_ride)
        noise = se / math.sqrt(2) * math.sqrt(len(gears)) * rng.standard_normal(len(gears))
        setups.append(setup)
        levels.append(_levels(np.log(np.array(bike.overall_ratios(truly))) - circumference + noise, se))
    predicted = change_percent(*setups)
    moved = shift(levels[0], levels[1], predicted)
    shown = [shown_reduction(bike, setup, level, "receiver") for setup, level in zip(setups, levels, strict=True)]
    check = check_pairs(setups[0], setups[1], moved, (shown[0], shown[1]))
    assert check is not None
    doubted = any(ride is not None and ride.doubts(s.final_drive) for ride, s in zip(shown, setups, strict=True))
    return _outcome(drawn, check, doubted)


def _levels(log_ratio: np.ndarray, se: float) -> Levels:
    size = log_ratio.size
    ones = np.ones(size, dtype=np.int64)
    return Levels(np.arange(1, size + 1), log_ratio, np.eye(size) * se**2 * size / 2, 20.0, ones, ones)


def _outcome(drawn: Case, check: SprocketCheck, doubted: bool) -> Outcome:
    listed = [(pair.reference, pair.other) for pair in check.pairs]
    named = listed[0] if check.pairs and check.pairs[0].probability >= NAMED else None
    return Outcome(
        named,
        drawn.true in listed,
        doubted or not listed or (named is not None and named != drawn.stated),
        not listed,
    )


def study(kind: str, seeds: range) -> list[tuple[Case, Outcome]]:
    """Draw and look at one bike a seed."""
    found = []
    for seed in seeds:
        rng = np.random.default_rng([KINDS.index(kind), seed])
        drawn = case(kind, rng)
        found.append((drawn, look(drawn, rng)))
    return found


def row(kind: str, found: list[tuple[Case, Outcome]]) -> str:
    """Write one line of the table, in per cent of the bikes."""
    share = [
        [seen.named == drawn.true for drawn, seen in found],
        [seen.right for _, seen in found],
        [seen.named not in (None, drawn.true, drawn.stated) for drawn, seen in found],
        [seen.named == drawn.stated != drawn.true for drawn, seen in found],
        [seen.accused for _, seen in found],
        [seen.none for _, seen in found],
    ]
    return f"| {kind} | " + " | ".join(f"{100 * float(np.mean(each)):.1f}" for each in share) + " |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bikes", type=int, default=500)
    parser.add_argument("--first-seed", type=int, default=5000)
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.bikes)
    print(f"{arguments.bikes} bikes a line, per cent of them\n")
    print(f"| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}", flush=True)
    for kind in KINDS:
        print(row(kind, study(kind, seeds)), flush=True)


if __name__ == "__main__":
    main()
