"""Corrections of power to a reference state of the air."""

from __future__ import annotations

import pytest

from gearfit.machine.atmosphere import air_kgm3, pressure_hpa
from gearfit.machine.bike import Conditions
from gearfit.records.estimate import Estimate
from gearfit.timed.air import corrected, power_factor


@pytest.mark.parametrize("rule", ["ISO 1585", "SAE J1349"])
def test_the_reference_state_needs_no_correction(rule: str) -> None:
    """Both rules: 990 hPa and 298 K (25 degC) give 1."""
    assert power_factor(Conditions(25.0, 990.0, None, rule)) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("hpa", "celsius", "j1349", "r85"),
    [
        (1013, 20, 0.9635, 0.9630),
        (950, 30, 1.0600, 1.0613),
        (900, 10, 1.0849, 1.0870),
        (1027, 22.8, 0.9533, 0.9527),
        (926, 33.8, 1.1000, 1.1026),
    ],
)
def test_other_states(hpa: float, celsius: float, j1349: float, r85: float) -> None:
    """Worked apart from the code with the published forms (SAE J1349 of June 1990; UN R85 from memory)."""
    assert power_factor(Conditions(celsius, hpa, None, "SAE J1349")) == pytest.approx(j1349, abs=6e-5)
    assert power_factor(Conditions(celsius, hpa, None, "ISO 1585")) == pytest.approx(r85, abs=6e-5)


def test_pressure_from_the_altitude() -> None:
    """ISO 2533 standard atmosphere: 898.76 hPa at 1000 m, 1013.25 hPa at sea level (from memory)."""
    assert pressure_hpa(Conditions(altitude_m=1000.0)) == pytest.approx(898.76, abs=0.05)
    assert pressure_hpa(Conditions(altitude_m=0.0)) == pytest.approx(1013.25)
    assert pressure_hpa(Conditions(pressure_hpa=950.0, altitude_m=1000.0)) == 950.0


@pytest.mark.parametrize(("altitude_m", "kgm3"), [(0.0, 1.2250), (1000.0, 1.1117), (2000.0, 1.0066), (3000.0, 0.9093)])
def test_density_of_the_standard_atmosphere(altitude_m: float, kgm3: float) -> None:
    """Table of ISO 2533 (from memory); an altitude alone gives it, and so does the pressure there."""
    at = Conditions(altitude_m=altitude_m)
    assert air_kgm3(at) == pytest.approx(kgm3, abs=2e-4)
    assert air_kgm3(Conditions(pressure_hpa=pressure_hpa(at))) == pytest.approx(kgm3, abs=2e-4)
    # At one pressure density goes with 1 / T: 30 degC against 15 degC less 6.5 K a kilometre.
    warm = air_kgm3(Conditions(temperature_c=30.0, altitude_m=altitude_m))
    assert warm == pytest.approx(kgm3 * (288.15 - 0.0065 * altitude_m) / 303.15, abs=2e-4)


def test_density_where_the_pressure_is_unknown() -> None:
    assert air_kgm3(Conditions()) == air_kgm3(Conditions(temperature_c=5.0)) == 1.2


def test_nothing_is_corrected_unasked_or_unknown() -> None:
    time = Estimate(6.0, 0.1, 5.8, 6.2)
    assert corrected(time, Conditions(20.0, 1000.0)) is None
    assert corrected(time, Conditions(20.0, None, None, "ISO 1585")) is None
    thin = corrected(time, Conditions(30.0, 950.0, None, "SAE J1349"))
    assert thin is not None
    assert thin.value == pytest.approx(6.0 / 1.06, abs=1e-3)
