"""Pairs at round speeds as people write them down: invented instruments, habits and satellite receivers.

Written apart from what the estimator assumes: a sheet is a text file as it would be handed in, and nothing of gearfit
makes it. Prints the table of docs/validation-speedometer.md by hand: ``python -m tests.validation.round_pairs``
(about two minutes on one core).
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gearfit.importers import read_log
from gearfit.machine.bike import Bike, Setup
from gearfit.records.results import Speedometer
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.rules import R39, rule

FloatArray = NDArray[np.float64]

KMH_PER_MPH = 1.609344
INSTRUMENTS = ("display, rounds", "display, cuts", "needle read to 1", "needle read to 5")
HABITS = ("dash held", "satellite held")
#: Standard error of the satellite speed, km/h.
SATELLITE_KMH = 0.3
HEAD = (
    "| what | n | gain held [%] | width of the gain's interval, median | error at 80 km/h held [%] | told within "
    "1 km/h [%] | wrong verdicts at a test speed | corrector raises a dash that over-reads | corrector leaves less "
    "than the true speed |\n|---|---|---|---|---|---|---|---|---|"
)


@dataclass(frozen=True)
class Sheet:
    """A sheet as handed in, and the instrument behind it: shown = offset + gain x true, in km/h on the average."""

    text: str
    gain: float
    offset_kmh: float

    def error_kmh(self, true_kmh: float, factor: float = 1.0) -> float:
        """Shown less true speed, `factor` pulses handed on for each."""
        return self.offset_kmh + (self.gain * factor - 1) * true_kmh


def round_speeds(rng: np.random.Generator, unit: str, pairs: int) -> FloatArray:
    """Return round speeds as people choose them, slow to fast: tens where these are enough, or some of the fives."""
    low, high = (20, 110) if unit == "kmh" else (15, 70)
    tens = np.arange(low, high + 1, 10)
    if tens.size >= pairs and rng.random() < 0.5:
        return tens[np.unique(np.linspace(0, tens.size - 1, pairs).astype(np.int64))].astype(np.float64)
    fives = np.arange(low, high + 1, 5)
    between = rng.choice(fives[1:-1], pairs - 2, replace=pairs > fives.size)
    return np.sort(np.concatenate(([low, high], between))).astype(np.float64)


def sheet(rng: np.random.Generator, instrument: str, habit: str, unit: str = "kmh", pairs: int = 10) -> Sheet:
    """Draw an instrument and let somebody write pairs at round speeds."""
    per = 1.0 if unit == "kmh" else KMH_PER_MPH
    gain, offset = float(rng.uniform(0.98, 1.10)), float(rng.uniform(0.0, 4.0)) / per
    hand = float(rng.uniform(0.5, 1.0)) if instrument.startswith("needle") else 0.05
    held = round_speeds(rng, unit, pairs)
    satellite_sd = SATELLITE_KMH / per
    if habit == "dash held":
        shown = held
        true = (_needle_at(rng, instrument, held, hand) - offset) / gain
        noted = true + satellite_sd * rng.standard_normal(held.size)
    else:
        noted = held
        true = held + satellite_sd * rng.standard_normal(held.size)
        shown = _read(instrument, offset + gain * true + hand * rng.standard_normal(held.size))
    digits = 0 if habit == "satellite held" or rng.random() < 0.25 else 1
    rows = "".join(f"{s:.0f},{t:.{digits}f}\n" for s, t in zip(shown, noted, strict=True))
    cut = 0.5 if instrument == "display, cuts" else 0.0
    return Sheet(f"indicated_{unit},gps_{unit}\n{rows}", gain, (offset - cut) * per)


def _needle_at(rng: np.random.Generator, instrument: str, held: FloatArray, hand: float) -> FloatArray:
    """Where the needle (or what a display is fed with) is while somebody holds a round reading."""
    place = rng.uniform(-0.5, 0.5, held.size)
    if instrument == "display, cuts":
        return held + 0.5 + place
    if instrument == "needle read to 5":
        return held + 5 * place
    return held + (place if instrument == "display, rounds" else 0.0) + hand * rng.standard_normal(held.size)


def _read(instrument: str, needle: FloatArray) -> FloatArray:
    step = 5.0 if instrument == "needle read to 5" else 1.0
    read: FloatArray = np.floor(needle) if instrument == "display, cuts" else step * np.round(needle / step)
    return read


def check(text: str) -> Speedometer | str:
    """Read a sheet and check the instrument against UNECE R39, as the command does; or why it cannot be."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dash.csv"
        path.write_text(text, encoding="utf-8")
        gathered = gather_pairs(Bike(), Setup("before"), [read_log(path)], None, False)
    assert gathered is not None
    return judge(gathered, rule(R39))


@dataclass
class Counts:
    """What came out of many sheets."""

    gain_held: list[bool] = field(default_factory=list)
    width: list[float] = field(default_factory=list)
    error_held: list[bool] = field(default_factory=list)
    error_near: list[bool] = field(default_factory=list)
    wrong: Counter[str] = field(default_factory=Counter)

    def add(self, one: Sheet, found: Speedometer) -> None:
        """Hold one result against the truth."""
        self.gain_held.append(found.gain.contains(one.gain))
        self.width.append(found.gain.hi95 - found.gain.lo95)
        error = found.at[1].error_mps.scaled(3.6)
        self.error_held.append(error.contains(one.error_kmh(80)))
        self.error_near.append(abs(error.value - one.error_kmh(80)) <= 1.0)
        for true_kmh, point in zip((40, 80, 120), found.at, strict=True):
            lawful = 0 <= one.error_kmh(true_kmh) <= true_kmh / 10 + 4
            self.wrong["verdict"] += point.verdict == ("outside" if lawful else "within")
        if isinstance(found.correction, str):
            return
        factor = found.correction.pulse_factor
        over_reads = min(one.error_kmh(20), one.error_kmh(110)) > 0
        self.wrong["raises"] += factor > 1 and over_reads
        self.wrong["too little"] += min(one.error_kmh(20, factor), one.error_kmh(110, factor)) < 0

    def line(self, name: str) -> str:
        """One row of the table."""
        held, error, near = (f"{100 * np.mean(v):.1f}" for v in (self.gain_held, self.error_held, self.error_near))
        wrong = " | ".join(str(self.wrong[what]) for what in ("verdict", "raises", "too little"))
        return f"| {name} | {len(self.width)} | {held} | {np.median(self.width):.3f} | {error} | {near} | {wrong} |"


def study(n: int, seed: int, habit: str, unit: str, pairs: int = 10) -> Iterator[tuple[str, Sheet, Speedometer]]:
    """Draw `n` sheets of a habit, the instruments in turn."""
    for k in range(n):
        rng = np.random.default_rng([71, seed, HABITS.index(habit), len(unit), pairs, k])
        instrument = INSTRUMENTS[k % len(INSTRUMENTS)]
        one = sheet(rng, instrument, habit, unit, pairs)
        found = check(one.text)
        assert isinstance(found, Speedometer), found
        yield instrument, one, found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Simulation study of speedometer pairs at round speeds.")
    parser.add_argument("--sheets", type=int, default=200, help="of each habit and unit")
    parser.add_argument("--pairs", type=int, default=10)
    parser.add_argument("--seed", type=int, default=9001)
    arguments = parser.parse_args()
    print(HEAD)
    by_instrument = {name: Counts() for name in INSTRUMENTS}
    for habit in HABITS:
        for unit, label in (("kmh", "km/h"), ("mph", "mph")):
            counts = Counts()
            for instrument, one, found in study(arguments.sheets, arguments.seed, habit, unit, arguments.pairs):
                counts.add(one, found)
                by_instrument[instrument].add(one, found)
            print(counts.line(f"{habit}, {label}"), flush=True)
    for instrument, counts in by_instrument.items():
        print(counts.line(instrument))


if __name__ == "__main__":
    main()
