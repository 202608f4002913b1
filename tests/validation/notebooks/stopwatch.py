"""Hand-timed runs: the person's thumb, the rider's scatter, and sheets that were copied twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

#: Spans as people time them, with a usual time [s].
SPANS: Final = (("from_mph,to_mph,time_s", "0,60", 6.5), ("from_kmh,to_kmh,time_s", "0,100", 7.0),
                ("from_kmh,to_kmh,time_s", "60,100", 5.5))  # fmt: skip
LONGEST_GAIN: Final = 0.06


@dataclass(frozen=True)
class Timed:
    """The sheets of both rides and the true difference of the means, after less before."""

    sheets: tuple[bytes, bytes]
    difference_s: float


def draw_timed(rng: np.random.Generator, copied_rows: bool) -> Timed:
    """Time 1 to 8 runs a setup."""
    header, span, usual = SPANS[rng.integers(len(SPANS))]
    time_s = usual * rng.uniform(0.8, 1.5)
    difference_s = float(time_s * rng.uniform(-LONGEST_GAIN, LONGEST_GAIN))
    sd = float(np.hypot(rng.uniform(0.1, 0.2), rng.uniform(0.05, 0.2)))
    digits = int(rng.choice([1, 2]))
    sheets = []
    for mean in (time_s, time_s + difference_s):
        runs = [f"{span},{t:.{digits}f}" for t in rng.normal(mean, sd, int(rng.integers(1, 9)))]
        sheets.append("\n".join([header, *runs, *(runs if copied_rows else [])]) + "\n")
    return Timed((sheets[0].encode(), sheets[1].encode()), difference_s)
