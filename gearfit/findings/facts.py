"""What the findings speak about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearfit.comparison.shift import Shift
from gearfit.fitting.setup_fit import SetupFit
from gearfit.records.recording import RideFolder
from gearfit.records.results import Comparison, SetupResult


@dataclass(frozen=True, eq=False)
class Pair:
    """Two setups compared: their results, the shift between them and the comparison record.

    `unclear` tells that the gears may be numbered in two ways, so that no change is given.
    """

    reference: SetupResult
    other: SetupResult
    shift: Shift
    comparison: Comparison
    unclear: bool = False


@dataclass(frozen=True, eq=False)
class Facts:
    """Everything an analysis found, with the fits behind it (`fits[i]` belongs to `results[i]`).

    `speedometer_notes[i]` says why there is no judgement of a speedometer whose readings are there ("" otherwise).
    """

    folder: RideFolder
    speed_unit: str
    results: tuple[SetupResult, ...]
    fits: tuple[SetupFit, ...]
    pairs: tuple[Pair, ...]
    speedometer_notes: tuple[str, ...] = ()

    def holds_gearing(self, pair: Pair) -> bool:
        """Whether either setup holds engine speeds, or no speedometer was the only thing looked at."""
        engine = any(result.samples["engine_rpm"].notna().any() for result in (pair.reference, pair.other))
        return engine or pair.reference.speedometer is None or pair.other.speedometer is None

    def reference_rpm(self) -> float:
        """Engine speed for examples: the usual one of the samples in gear, rounded to 500 rev/min."""
        in_gear = [r.samples.loc[r.samples["gear"].notna(), "engine_rpm"].to_numpy() for r in self.results]
        rpm = np.concatenate(in_gear)
        return max(1000.0, 500.0 * round(float(np.median(rpm)) / 500)) if rpm.size else 5000.0
