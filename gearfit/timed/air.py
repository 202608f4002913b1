"""The state of the air: a time referred to a reference state, beside the time as ridden and never instead of it.

    alpha = (99 / p)^1.2 (T / 298)^0.6           ISO 1585 / UN R85, p in kPa, T in K (from memory)
    alpha = 1.180 (99 / p) sqrt(T / 298) - 0.18  SAE J1349 (June 1990)

is the power at the reference state (99 kPa, 298 K) over that in the test. To first order a time at full power goes with
one over the power: t_ref = t / alpha. Water vapour is not taken off the pressure (at 25 degC and 60 % it is 2 kPa).
"""

from __future__ import annotations

from typing import Final

from gearfit.machine.atmosphere import pressure_hpa
from gearfit.machine.bike import Conditions
from gearfit.records.results import Estimate

#: Powers within which a correction holds (of ISO 1585 / UN R85, from memory; taken for the other as well).
HOLDS_FROM: Final = 0.93
HOLDS_TO: Final = 1.07
_REFERENCE_KPA: Final = 99.0
_REFERENCE_K: Final = 298.0
_ZERO_C_K: Final = 273.0


def power_factor(conditions: Conditions) -> float | None:
    """Power at the reference state over that in the test; None where no correction is asked for or can be made."""
    pressure = pressure_hpa(conditions)
    if conditions.correction is None or pressure is None or conditions.temperature_c is None:
        return None
    share = _REFERENCE_KPA / (pressure / 10)
    warmth = (conditions.temperature_c + _ZERO_C_K) / _REFERENCE_K
    if conditions.correction == "SAE J1349":
        return float(1.180 * share * warmth**0.5 - 0.18)
    return float(share**1.2 * warmth**0.6)


def corrected(time_s: Estimate, conditions: Conditions) -> Estimate | None:
    """Return the time at the reference state of the air; None where no correction is asked for or can be made."""
    factor = power_factor(conditions)
    return None if factor is None else time_s.scaled(1 / factor)
