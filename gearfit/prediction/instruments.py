"""What a change of gearing or tyre does to speedometer and odometer, by where they are driven from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: Pick-up -> whether it feels the final drive, and whether it feels the driven tyre.
_FEELS: Final = {"gearbox output": (True, True), "rear wheel": (False, True), "front wheel": (False, False)}


@dataclass(frozen=True)
class InstrumentEffect:
    """One possible pick-up.

    Attributes
    ----------
    driven_from : str
        "gearbox output", "rear wheel" or "front wheel".
    reading_percent : float
        Change of the reading at the same true speed, and of the distance counted over the same road.
    """

    driven_from: str
    reading_percent: float


def instrument_effects(driven_from: str, teeth_factor: float, tyre_factor: float) -> tuple[InstrumentEffect, ...]:
    """Return the change of reading for the stated pick-up, or for each possible one where it is "unknown".

    A pick-up counts turns of its own shaft; at the same road speed that shaft turns by 1/factor of whatever lies
    between it and the road.

    Parameters
    ----------
    driven_from : str
        As bike.toml states it.
    teeth_factor, tyre_factor : float
        Road speed after over now at the same engine speed, from the sprockets and from the tyre.
    """
    pick_ups = [driven_from] if driven_from in _FEELS else list(_FEELS)
    effects = []
    for pick_up in pick_ups:
        feels_teeth, feels_tyre = _FEELS[pick_up]
        factor = (teeth_factor if feels_teeth else 1.0) * (tyre_factor if feels_tyre else 1.0)
        effects.append(InstrumentEffect(pick_up, 100 * (1 / factor - 1)))
    return tuple(effects)
