"""One step towards the lag, on made-up samples."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.lag import Correction, correction

FloatArray = NDArray[np.float64]

PASSAGES, EACH = 12, 60
PASSAGE = np.repeat(np.arange(PASSAGES), EACH)
GEAR = PASSAGE % 4


def made(lag_s: float, offset_mps: float, seed: int) -> dict[str, FloatArray]:
    """Residuals of samples whose engine speed leads by `lag_s` and whose speeds are `offset_mps` too small."""
    rng = np.random.default_rng(seed)
    speed = rng.uniform(4, 12, PASSAGES)[PASSAGE] * np.exp(np.tile(np.linspace(0, 0.5, EACH), PASSAGES))
    rate = rng.uniform(-0.3, 0.4, PASSAGES)[PASSAGE] + 0.02 * rng.standard_normal(PASSAGE.size)
    sd = 0.1 / speed
    residual = 0.01 * GEAR + lag_s * rate + offset_mps / speed + sd * rng.standard_normal(PASSAGE.size)
    return {"residual": residual, "sd": sd, "rate": rate, "speed_mps": speed}


def found(data: dict[str, FloatArray], with_offset: bool) -> Correction:
    result = correction(**data, gear=GEAR, passage=PASSAGE, with_offset=with_offset)
    assert result is not None
    return result


@pytest.mark.parametrize("lag_s", [-0.3, 0.0, 0.15])
def test_lag_whatever_the_levels_of_the_gears(lag_s: float) -> None:
    step = found(made(lag_s, 0.0, 1), with_offset=False)
    assert step.lag_s == pytest.approx(lag_s, abs=3 * step.lag_se_s)
    assert step.lag_se_s < 0.02
    assert (step.offset_mps, step.offset_se_mps) == (0.0, np.inf)
    assert step.passages == PASSAGES


def test_lag_and_offset_together() -> None:
    step = found(made(0.2, 0.14, 2), with_offset=True)
    assert step.lag_s == pytest.approx(0.2, abs=3 * step.lag_se_s)
    assert step.offset_mps == pytest.approx(0.14, abs=3 * step.offset_se_mps)
    assert step.offset_se_mps < 0.05


def test_a_tenth_of_wild_samples_does_little_harm() -> None:
    data = made(0.1, 0.0, 4)
    wild = np.random.default_rng(4).choice(PASSAGE.size, PASSAGE.size // 10, replace=False)
    data["residual"][wild] += 0.3 * np.sign(data["rate"][wild])
    assert found(data, with_offset=False).lag_s == pytest.approx(0.1, abs=0.05)


def test_too_little_to_tell() -> None:
    data = made(0.1, 0.0, 5)
    few = slice(0, 3 * EACH)
    part = {name: values[few] for name, values in data.items()}
    assert correction(**part, gear=GEAR[few], passage=PASSAGE[few], with_offset=False) is None
    steady = data | {"rate": np.zeros(PASSAGE.size)}
    assert correction(**steady, gear=GEAR, passage=PASSAGE, with_offset=False) is None
