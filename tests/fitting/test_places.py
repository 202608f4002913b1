"""Places in a series of times, against numpy's own search."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.pairing.places import Places

FloatArray = NDArray[np.float64]

SERIES: dict[str, Callable[[np.random.Generator, int], FloatArray]] = {
    "even": lambda _, n: np.linspace(1e6, 1e6 + 0.1 * (n - 1), n),
    "jitter": lambda rng, n: np.cumsum(rng.uniform(0.02, 0.2, n)),
    "doubles": lambda rng, n: np.sort(np.round(rng.uniform(0, n / 10, n), 1)),
    "pauses": lambda rng, n: np.cumsum(np.where(rng.random(n) < 0.1, 30.0, 0.1)),
    "one long pause": lambda rng, n: np.sort(np.append(rng.uniform(0, 1, n - 1), 1e4)),
    "all alike": lambda _, n: np.full(n, 3.0),
}


@pytest.mark.parametrize("n", [1, 2, 7, 300])
@pytest.mark.parametrize("kind", SERIES)
def test_as_numpy_searches(kind: str, n: int) -> None:
    rng = np.random.default_rng(n)
    time_s = SERIES[kind](rng, n)
    at_s = np.concatenate(
        [
            time_s,
            time_s - 0.1,
            np.nextafter(time_s, -np.inf),
            np.nextafter(time_s, np.inf),
            rng.uniform(time_s[0] - 5, time_s[-1] + 5, 200),
        ]
    )
    places = Places(time_s)
    assert (places.before(at_s) == np.searchsorted(time_s, at_s)).all()
    assert (places.until(at_s) == np.searchsorted(time_s, at_s, side="right")).all()


def test_an_empty_series() -> None:
    places, at_s = Places(np.empty(0)), np.array([0.0, 1.0])
    assert places.before(at_s).tolist() == places.until(at_s).tolist() == [0, 0]
