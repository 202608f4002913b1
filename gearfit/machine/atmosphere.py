"""The air at a place: as stated, else that of the standard atmosphere (ISO 2533, from memory) at the altitude.

    T = 288.15 K - 0.0065 K/m h,   p = 1013.25 hPa (T / 288.15 K)^5.2559,   rho = p / (R T),   R = 287.05 J/(kg K)

with h in m; the air is taken as dry.
"""

from __future__ import annotations

from typing import Final

from gearfit.machine.bike import Conditions

_SEA_LEVEL_HPA: Final = 1013.25
_SEA_LEVEL_K: Final = 288.15
_LAPSE_K_PER_M: Final = 0.0065
_GAS_J_PER_KG_K: Final = 287.05
_ZERO_C_K: Final = 273.15
#: Where neither pressure nor altitude is stated, kg/m^3: dry air of 20 degC at sea level.
USUAL_AIR_KGM3: Final = 1.2


def pressure_hpa(conditions: Conditions) -> float | None:
    """Pressure at the place: as stated, else of the standard atmosphere at the altitude; None where not known."""
    if conditions.pressure_hpa is not None:
        return conditions.pressure_hpa
    if conditions.altitude_m is None:
        return None
    return float(_SEA_LEVEL_HPA * (_standard_k(conditions.altitude_m) / _SEA_LEVEL_K) ** 5.2559)


def air_kgm3(conditions: Conditions) -> float:
    """Density of the air; where no temperature is stated, with that of the standard atmosphere at the place.

    `USUAL_AIR_KGM3` where neither pressure nor altitude is stated.
    """
    pressure = pressure_hpa(conditions)
    if pressure is None:
        return USUAL_AIR_KGM3
    if conditions.temperature_c is not None:
        kelvin = conditions.temperature_c + _ZERO_C_K
    elif conditions.altitude_m is not None:
        kelvin = _standard_k(conditions.altitude_m)
    else:
        kelvin = _SEA_LEVEL_K * (pressure / _SEA_LEVEL_HPA) ** (1 / 5.2559)
    return 100 * pressure / (_GAS_J_PER_KG_K * kelvin)


def _standard_k(altitude_m: float) -> float:
    return _SEA_LEVEL_K - _LAPSE_K_PER_M * altitude_m
