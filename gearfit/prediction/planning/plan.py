"""The plan of a test: what to hold in which gear, how often, and what the result will be able to show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.errors import InputError
from gearfit.prediction.basis import Gearing
from gearfit.prediction.planning.noise import Noise
from gearfit.prediction.planning.power import TOLD, GearPower, gear_powers
from gearfit.prediction.planning.starts import StartPlan

#: Engine speeds are asked for in these steps; each pass holds another one, so that rounding does not repeat itself.
RPM_STEP: Final = 250.0
#: Highest and lowest engine speed asked for, share of the limit; and where no limit is stated, rev/min.
_HIGHEST_SHARE: Final = 0.65
_LOWEST_SHARE: Final = 0.25
_HIGHEST_RPM: Final = 5000.0
_LOWEST_RPM: Final = 2000.0
#: How long to hold: a person reads once, a log averages.
HOLD_S: Final = {"display": 5.0, "log": 10.0}
#: Passes in each gear that are tried, half of them each way.
PASSES: Final = (2, 4, 6, 8)


@dataclass(frozen=True)
class GearPlan:
    """What to do in one gear, and what that shows.

    Attributes
    ----------
    gear : int
        1 = first.
    hold_rpm : tuple of float
        Engine speed of each pass; odd passes out, even passes back.
    now_mps, after_mps : tuple of float
        Road speed to expect at each, now and after the change.
    power : float
        Chance that this gear shows the change.
    smallest_percent : float
        Smallest change that it shows with a chance of 90 %.
    """

    gear: int
    hold_rpm: tuple[float, ...]
    now_mps: tuple[float, ...]
    after_mps: tuple[float, ...]
    power: float
    smallest_percent: float

    @property
    def told(self) -> bool:
        """Whether the gear is as good as sure to show the change."""
        return self.power >= TOLD


@dataclass(frozen=True)
class Plan:
    """The whole test.

    Attributes
    ----------
    name : str
        Of the machine.
    setups : (str, str)
        Names of the two setups.
    change_percent : float
        Expected change of road speed at the same engine speed.
    noise : Noise
        Of one passage.
    fastest_mps : float
        No pass is faster than this.
    passes : int
        In each gear and setup.
    hold_s : float
        How long each is held.
    gears : tuple of GearPlan
    all_gears_half_width_percent : float
        Half width of the 95 % interval of the change over all gears, as it is expected.
    starts : StartPlan
        The timed runs.
    ridden : bool
        Whether anything was ridden yet.
    missing : tuple of str
        What has still to be ridden, after a ride; empty before any and when all is there.
    """

    name: str
    setups: tuple[str, str]
    change_percent: float
    noise: Noise
    fastest_mps: float
    passes: int
    hold_s: float
    gears: tuple[GearPlan, ...]
    all_gears_half_width_percent: float
    starts: StartPlan
    ridden: bool
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Wanted:
    """What the rider lays down: highest speed [m/s], and engine speed or passes (None: the plan chooses)."""

    fastest_mps: float
    hold_rpm: float | None = None
    passes: int | None = None


def plan_gears(
    gearing: Gearing, change_percent: float, noise: Noise, limit_rpm: float | None, wanted: Wanted
) -> tuple[GearPlan, ...]:
    """Choose the passes: as few as show the change in every gear that can show it at all with the most.

    Raises
    ------
    InputError
        No gear can be ridden within the speed laid down.
    """
    if wanted.passes is not None:
        return _gears(gearing, change_percent, noise, limit_rpm, wanted, wanted.passes)
    most = _gears(gearing, change_percent, noise, limit_rpm, wanted, PASSES[-1])
    tellable = {gear.gear for gear in most if gear.told}
    for passes in PASSES[:-1]:
        gears = _gears(gearing, change_percent, noise, limit_rpm, wanted, passes)
        if tellable and tellable <= {gear.gear for gear in gears if gear.told}:
            return gears
    return most


def _gears(
    gearing: Gearing, change_percent: float, noise: Noise, limit_rpm: float | None, wanted: Wanted, passes: int
) -> tuple[GearPlan, ...]:
    factor = 1 + change_percent / 100
    held: list[tuple[int, float, list[float]]] = []
    for gear, per_1000 in zip(gearing.gears, gearing.speed_per_1000rpm_mps, strict=True):
        rpms = hold_rpms(per_1000 * max(factor, 1.0), limit_rpm, wanted, passes)
        if rpms:
            held.append((gear, per_1000, rpms))
    if not held:
        raise InputError(
            "--fastest", "no gear can be held within this speed", "Allow a higher one where the law and the road do"
        )
    readings = [[(rpm * per_1000 / 1000, rpm) for rpm in rpms] for _, per_1000, rpms in held]
    powers = gear_powers(noise, readings, factor - 1, gearing.relative_sd)
    return tuple(
        _gear(gear, per_1000, rpms, factor, power) for (gear, per_1000, rpms), power in zip(held, powers, strict=True)
    )


def _gear(gear: int, per_1000: float, rpms: list[float], factor: float, power: GearPower) -> GearPlan:
    now = tuple(rpm * per_1000 / 1000 for rpm in rpms)
    return GearPlan(gear, tuple(rpms), now, tuple(factor * speed for speed in now), power.power, power.smallest_percent)


def hold_rpms(speed_per_1000rpm_mps: float, limit_rpm: float | None, wanted: Wanted, passes: int) -> list[float]:
    """Return the engine speed of each pass, highest first, stepping down within what engine and law bear.

    Empty where even the lowest would be too fast.
    """
    lowest = _LOWEST_RPM if limit_rpm is None else max(_LOWEST_SHARE * limit_rpm, 1500.0)
    highest = wanted.hold_rpm or (_HIGHEST_RPM if limit_rpm is None else _HIGHEST_SHARE * limit_rpm)
    lawful = 1000 * wanted.fastest_mps / speed_per_1000rpm_mps
    if lawful < lowest:
        return []
    start = highest if wanted.hold_rpm and highest <= lawful else RPM_STEP * (min(highest, lawful) // RPM_STEP)
    different = max(int((start - lowest) // RPM_STEP), 0) + 1
    return [max(start - RPM_STEP * (k % different), 1.0) for k in range(passes)]


def half_width_percent(gears: tuple[GearPlan, ...], noise: Noise) -> float:
    """Return the expected half width [%] of the 95 % interval of the change over all gears."""
    information = sum(
        noise.sd(speed, rpm) ** -2 for gear in gears for speed, rpm in zip(gear.now_mps, gear.hold_rpm, strict=True)
    )
    return float(100 * 2.0 * (2 / information) ** 0.5)
