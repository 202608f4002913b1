"""Rules for speedometers: what an instrument may show at a true speed, and at which speeds it is tested.

Law differs from place to place; these are two published rules, not the law of the reader's own country.

Sources
-------
UN Regulation No. 39, paragraph 5.3 in the numbering of Revision 1 (5.4 in Revision 2 of 2018): "The speed indicated
shall not be less than the true speed of the vehicle. At the test speeds ... 0 <= (V1 - V2) <= 0,1 V2 + 4 km/h", V1
indicated, V2 true; read as quoted in public, as the regulation itself was not at hand. The same formula holds for all
categories. From memory and not read: the test speeds by maximum speed (the row 40, 80, 120 km/h is quoted in public),
and the wider tolerances of Annex 3 for machines taken from series production (M and N: + 6 km/h; L3, L4, L5: + 8 km/h;
L1, L2: + 4 km/h).

49 CFR 393.82 [70 FR 48054, 15 August 2005]: accurate within plus or minus 8 km/h (5 mph) at 80 km/h (50 mph); read in a
public copy. The part is written for commercial vehicles (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.units import MPS_PER_KMH, to_mps

R39: Final = "UNECE R39"
CFR: Final = "49 CFR 393.82"
NONE: Final = "none"
#: Names that bike.toml and the command line take.
NAMES: Final = (R39, CFR, NONE)

#: Tolerance of Annex 3 of R39 in km/h by vehicle category (from memory).
_PRODUCTION_KMH: Final = {"L1": 4.0, "L2": 4.0, "L3": 8.0, "L4": 8.0, "L5": 8.0, "M": 6.0, "N": 6.0}
CATEGORIES: Final = tuple(_PRODUCTION_KMH)
_APPROVAL_KMH: Final = 4.0
_R39_SHARE: Final = 0.1
_CFR_KMH, _CFR_AT_KMH = 8.0, 80.0
#: Speeds at which the instrument is told where no rule is asked for, in the unit that the rider reads.
_PLAIN: Final = {"kmh": (40.0, 80.0, 120.0), "mph": (30.0, 50.0, 70.0)}


@dataclass(frozen=True)
class Rule:
    """One rule.

    Attributes
    ----------
    name : str
        As written in bike.toml.
    test_speeds_mps : tuple of float
        True speeds at which it is judged.
    share_above, above_mps : float or None
        An indication may exceed the true speed by `share_above` of it and `above_mps`; None where there is no rule.
    below_mps : float or None
        By how much an indication may fall short (0: never); None where there is no rule.
    everywhere : bool
        Whether the limits hold at all speeds (else at the test speeds only).
    """

    name: str
    test_speeds_mps: tuple[float, ...]
    share_above: float | None
    above_mps: float | None
    below_mps: float | None
    everywhere: bool

    def allowed_mps(self, true_mps: float) -> tuple[float | None, float | None]:
        """Return lowest and highest indication allowed at a true speed; None, None where the rule says nothing."""
        if self.share_above is None or self.above_mps is None or self.below_mps is None:
            return None, None
        if not self.everywhere and all(abs(true_mps - speed) > 1e-9 for speed in self.test_speeds_mps):
            return None, None
        return true_mps - self.below_mps, true_mps * (1 + self.share_above) + self.above_mps

    @property
    def forbids_less(self) -> bool:
        """Whether an indication below the true speed is never allowed."""
        return self.below_mps == 0.0


def rule(
    name: str | None,
    *,
    maximum_speed_mps: float | None = None,
    production: bool = False,
    category: str = "L3",
    unit: str = "kmh",
) -> Rule:
    """Return a rule.

    Parameters
    ----------
    name : str or None
        One of `NAMES`; None is the same as "none".
    maximum_speed_mps : float, optional
        Highest speed of the machine, which sets the test speeds of R39; above 150 km/h where not known.
    production : bool
        Take the wider tolerance of R39 for machines from series production (from memory).
    category : str
        One of `CATEGORIES`; it matters with `production` only.
    unit : {"kmh", "mph"}
        Without a rule the instrument is told at round speeds of this unit.

    Raises
    ------
    ValueError
        `name` or `category` is none of these.
    """
    if name not in (*NAMES, None):
        raise ValueError(f"rule {name!r} is not known; allowed are {', '.join(NAMES)}")
    if category not in CATEGORIES:
        raise ValueError(f"vehicle category {category!r} is not known; allowed are {', '.join(CATEGORIES)}")
    if name == R39:
        speeds = _r39_speeds_kmh(None if maximum_speed_mps is None else maximum_speed_mps / MPS_PER_KMH)
        above = _PRODUCTION_KMH[category] if production else _APPROVAL_KMH
        return Rule(R39, _mps(speeds), _R39_SHARE, above * MPS_PER_KMH, 0.0, True)
    if name == CFR:
        return Rule(CFR, _mps((_CFR_AT_KMH,)), 0.0, _CFR_KMH * MPS_PER_KMH, _CFR_KMH * MPS_PER_KMH, False)
    return Rule(NONE, tuple(to_mps(speed, unit) for speed in _PLAIN[unit]), None, None, None, False)


def _mps(speeds_kmh: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(speed * MPS_PER_KMH for speed in speeds_kmh)


def _r39_speeds_kmh(maximum: float | None) -> tuple[float, ...]:
    """Test speeds by the maximum speed of the type (from memory; the last row is quoted in public)."""
    if maximum is None or maximum > 150:
        return (40.0, 80.0, 120.0)
    if maximum <= 45:
        return (0.8 * maximum,)
    if maximum <= 100:
        return (40.0, 0.8 * maximum) if 0.8 * maximum >= 55 else (40.0,)
    return (40.0, 80.0, 0.8 * maximum) if 0.8 * maximum >= 100 else (40.0, 80.0)
