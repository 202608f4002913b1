"""How well anybody could tell a dash's error at 80 km/h from ten satellite speeds held at round mph.

Run by hand: ``python -m tests.validation.round_bound --sheets 300``. The estimate knows the law from which gain and
offset were drawn and how readings are rounded, which no rider's program does, and takes the place with most of its
posterior within 1 km/h: the share of sheets in which it is that near is the highest that there is.
"""

from __future__ import annotations

import argparse
from typing import Final

import numpy as np
from scipy.special import ndtr

from gearfit.units import MPS_PER_KMH, MPS_PER_MPH

_KMH: Final = MPS_PER_MPH / MPS_PER_KMH
#: Error of the satellite speed, and where the error is asked for, km/h.
_SD, _AT, _PAIRS = 0.3, 80.0, 10


def share(step_mph: float, sheets: int, seed: int = 9000) -> float:
    """Share of sheets whose error is told within 1 km/h where the dash is read to a step."""
    rng, half = np.random.default_rng(seed), step_mph * _KMH / 2
    gain, offset = np.meshgrid(np.linspace(0.98, 1.10, 61), np.linspace(0.0, 4.0, 41), indexing="ij")
    error, places = (gain - 1) * _AT + offset, np.linspace(-2.0, 13.0, 151)
    near = 0
    for _ in range(sheets):
        g, o = rng.uniform(0.98, 1.10), rng.uniform(0.0, 4.0)
        held = rng.choice(np.arange(15, 71, rng.choice([5, 10])), _PAIRS) * _KMH
        read = np.rint((g * (held + rng.normal(0, _SD, _PAIRS)) + o) / (2 * half)) * 2 * half
        away = read - gain[..., None] * held - offset[..., None]
        inside = ndtr((away + half) / _SD) - ndtr((away - half) / _SD)
        weight = np.exp(np.log(np.maximum(inside, 1e-12)).sum(-1))
        best = places[int(np.argmax([weight[np.abs(error - place) <= 1].sum() for place in places]))]
        near += bool(abs(best - ((g - 1) * _AT + o)) <= 1)
    return near / sheets


def main() -> None:
    """Print the bound of each step, and of sheets of which one in four is read to five."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=300)
    sheets = parser.parse_args().sheets
    fives, ones = share(5.0, sheets), share(1.0, sheets)
    print(f"to 5 mph {fives:.1%}, to 1 mph {ones:.1%}, one in four to five {(fives + 3 * ones) / 4:.1%}")


if __name__ == "__main__":
    main()
