"""Which multiples of an engine's working cycle can be heard.

An engine that fires at the crank angles theta_j of its cycle makes pulses whose k-th multiple of the cycle's frequency
has the strength a_k = |sum_j exp(-2 pi i k theta_j / cycle)| / n (Fourier coefficients of pulses at theta_j). Evenly
spaced firings leave only the multiples of the firing frequency.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.machine.bike import Engine

Floats = NDArray[np.float64]

#: Multiples weaker than this are not listened to.
_HEARD: Final = 0.3


@dataclass(frozen=True, eq=False)
class Orders:
    """What is listened to.

    Attributes
    ----------
    cycles_per_turn : float
        Working cycles in one turn of the crankshaft: 1/2 for four strokes, 1 for two.
    heard, strength : ndarray of float
        Multiples of the cycle's frequency, rising, and their strength from 0 to 1.
    below, above : ndarray of float
        Places halfway to the multiple before and to the one after, where nothing should be heard.
    even : bool
        Whether the firings are evenly spaced.
    spacing : float
        Smallest distance of the multiples heard.
    """

    cycles_per_turn: float
    heard: Floats
    strength: Floats
    below: Floats
    above: Floats
    even: bool
    spacing: float


def orders_of(engine: Engine, count: int) -> Orders:
    """Return the first `count` multiples heard of an engine; even firing where bike.toml states none."""
    cylinders = engine.cylinders or 1
    intervals = engine.firing or (engine.cycle_degrees / cylinders,) * cylinders
    angles = np.concatenate(([0.0], np.cumsum(intervals)[:-1]))
    multiples = np.arange(1, 3 * (count + 1) * len(intervals) + 1)
    strength = np.abs(np.exp(-2j * np.pi * np.outer(multiples, angles) / engine.cycle_degrees).mean(axis=1))
    loud = strength >= _HEARD
    heard = multiples[loud][: count + 1].astype(np.float64)
    halfway = (heard + np.concatenate(([0.0], heard[:-1]))) / 2
    return Orders(
        cycles_per_turn=360.0 / engine.cycle_degrees,
        heard=heard[:-1],
        strength=strength[loud][:count],
        below=halfway[:-1],
        above=halfway[1:],
        even=len(set(intervals)) == 1,
        spacing=float(np.diff(heard, prepend=0.0).min()),
    )
