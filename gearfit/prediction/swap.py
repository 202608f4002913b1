"""The whole prediction for a swap: speeds, engine speeds, thrust, instruments, chain, pairs, climb; before any ride."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from gearfit.brief import Brief
from gearfit.errors import InputError
from gearfit.machine.bike import Bike, FinalDrive, Tyre, Wish
from gearfit.prediction.basis import Gearing
from gearfit.prediction.chain_fit import ChainFit, chain_fit
from gearfit.prediction.gearing import step_ratios
from gearfit.prediction.instruments import InstrumentEffect, instrument_effects
from gearfit.prediction.lift import Climb, climb
from gearfit.prediction.unknown_teeth import LikelyTeeth, likely_teeth
from gearfit.prediction.wishes import RankedPair, WishAnswer, answer_wishes, neighbours, wanted_changes

#: Engine speed of the first table where none is asked for.
USUAL_RPM: Final = 5000.0


@dataclass(frozen=True)
class GearSpeeds:
    """One gear; `after` values are None without a change, limit values without a stated limit."""

    gear: int
    now_mps: float
    after_mps: float | None
    limit_now_mps: float | None
    limit_after_mps: float | None
    step_to_next: float | None


@dataclass(frozen=True)
class Hold:
    """One engine speed [rev/min] at one road speed [m/s], in one gear."""

    rpm: float
    speed_mps: float


@dataclass(frozen=True)
class CruiseRpm:
    """Engine speed [rev/min] at one road speed in one gear; None: in the gear in which the rider noted it."""

    speed_mps: float
    gear: int | None
    now_rpm: float
    after_rpm: float | None


@dataclass(frozen=True, repr=False)
class SwapPrediction(Brief):
    """What a change of sprockets or tyre does, on paper.

    Attributes
    ----------
    name : str
        Of the machine.
    now, after : Gearing
        `after` is None where nothing is changed.
    reference_rpm : float
        Engine speed of `gears`.
    limit_rpm : float or None
        As stated.
    known : Hold or None
        Engine and road speed that the rider knows now, on which `cruise` then rests.
    change_percent, thrust_percent : float or None
        Change of road speed at the same engine speed, and of thrust at the wheel at the same engine torque; the same in
        every gear.
    gears, cruise : tuple
        Tables.
    instruments : tuple of InstrumentEffect
        Of the stated pick-up, or of each possible one; empty without a change.
    chain : ChainFit or None
        None without a change of sprockets or without pitch, links and teeth.
    chain_problem : str
        Why the chain cannot go on, "" where it can or is not stated.
    wishes : tuple of WishAnswer
        One for each wish.
    unanswered_percent : tuple of float
        Wanted changes that no pair can be named for, because the present teeth are not stated.
    likely_teeth : LikelyTeeth or None
        What a ride says about sprockets that are not stated.
    neighbours : tuple of RankedPair
        Pairs one or two teeth away, where nothing is wished for.
    climb_now, climb_after : Climb or None
        None where mass, torque and balance are not stated.
    """

    name: str
    now: Gearing
    after: Gearing | None
    reference_rpm: float
    limit_rpm: float | None
    known: Hold | None
    change_percent: float | None
    thrust_percent: float | None
    gears: tuple[GearSpeeds, ...]
    cruise: tuple[CruiseRpm, ...]
    instruments: tuple[InstrumentEffect, ...]
    chain: ChainFit | None
    chain_problem: str
    wishes: tuple[WishAnswer, ...]
    unanswered_percent: tuple[float, ...]
    likely_teeth: LikelyTeeth | None
    neighbours: tuple[RankedPair, ...]
    climb_now: Climb | None
    climb_after: Climb | None


def refitted(now: Gearing, drive: FinalDrive, tyre: Tyre) -> Gearing:
    """Return the gearing with another final drive and tyre.

    Speeds move by the teeth and by the tyres: as stated for both, else by both size codes, whose common error cancels.

    Raises
    ------
    InputError
        The sprockets change and those fitted now are not stated, or the tyre changes and the one fitted now is not.
    """
    teeth_factor, tyre_factor = change_factors(now, drive, tyre)
    factor = teeth_factor * tyre_factor
    ratios = now.overall_ratios
    return replace(
        now,
        final_drive=drive,
        tyre=tyre,
        speed_per_1000rpm_mps=tuple(factor * speed for speed in now.speed_per_1000rpm_mps),
        overall_ratios=None if ratios is None else tuple(ratio / teeth_factor for ratio in ratios),
        circumference_m=None if now.circumference_m is None else tyre_factor * now.circumference_m,
    )


def change_factors(now: Gearing, drive: FinalDrive, tyre: Tyre) -> tuple[float, float]:
    """Return by what factors sprockets and tyre move road speed at the same engine speed."""
    return _teeth_factor(now.final_drive, drive), _tyre_factor(now, tyre)


def _teeth_factor(now: FinalDrive, after: FinalDrive) -> float:
    if (now.front, now.rear) == (after.front, after.rear):
        return 1.0
    if now.reduction is None or after.reduction is None:
        raise InputError(
            "bike.toml, [final_drive]",
            "the sprockets fitted now are not both stated, so the change cannot be told",
            "Count the teeth on both sprockets (the papers of a used bike may be wrong) and state front and rear",
        )
    return now.reduction / after.reduction


def _tyre_factor(now: Gearing, after: Tyre) -> float:
    before = now.tyre
    if before == after:
        return 1.0
    new_m = after.nominal_circumference_m
    if after.rolling_circumference_mm is None and before.size is not None and after.size is not None:
        return (Tyre(size=after.size).nominal_circumference_m or 1.0) / (
            Tyre(size=before.size).nominal_circumference_m or 1.0
        )
    if new_m is None or now.circumference_m is None:
        raise InputError(
            "bike.toml, [tyre]",
            "the tyre fitted now is not stated, so the change of tyre cannot be told",
            "State size or rolling_circumference_mm of the tyre that is on now",
        )
    return new_m / now.circumference_m


def predict(
    bike: Bike,
    now: Gearing,
    after: Gearing | None,
    *,
    reference_rpm: float = USUAL_RPM,
    cruise_mps: tuple[float, ...] = (),
    known: Hold | None = None,
) -> SwapPrediction:
    """Put everything together that can be said before the swap.

    Parameters
    ----------
    bike : Bike
        The machine; its wish, limit, mass, balance and speedometer count.
    now, after : Gearing
        What is fitted, and what is to be; None for no change.
    reference_rpm : float
        Engine speed of the table of gears.
    cruise_mps : tuple of float
        Road speeds of the table of engine speeds.
    known : Hold or None
        One engine speed that the rider knows now, and its road speed, in whatever gear; the table then rests on it.
    """
    change = None if after is None else math.prod(change_factors(now, after.final_drive, after.tyre))
    chain, problem = _chain(now, after)
    cruising_mps = _cruising_mps(now, known)
    wishes = answer_wishes(bike.wish, now, cruising_mps)
    return SwapPrediction(
        name=bike.name,
        now=now,
        after=after,
        reference_rpm=reference_rpm,
        limit_rpm=bike.engine.limit_rpm,
        known=known,
        change_percent=None if change is None else 100 * (change - 1),
        thrust_percent=None if change is None else 100 * (1 / change - 1),
        gears=_gears(now, after, reference_rpm, bike.engine.limit_rpm),
        cruise=_cruise(now, change, cruise_mps) if known is None else _cruise_from(known, change, cruise_mps),
        instruments=_instruments(bike, now, after),
        chain=chain,
        chain_problem=problem,
        wishes=wishes,
        unanswered_percent=_unanswered(bike.wish, now, cruising_mps),
        likely_teeth=likely_teeth(bike, now),
        neighbours=() if wishes or after is not None else neighbours(now.final_drive),
        climb_now=climb(bike, now),
        climb_after=None if after is None else climb(bike, after),
    )


def _cruising_mps(now: Gearing, known: Hold | None) -> float | None:
    """Return the road speed at 1000 rev/min in the gear that a cruise is meant in: the noted one, else the highest."""
    if known is not None:
        return 1000 * known.speed_mps / known.rpm
    return now.speed_per_1000rpm_mps[-1] if now.gears else None


def _unanswered(wish: Wish, now: Gearing, cruising_mps: float | None) -> tuple[float, ...]:
    if now.pair is not None:
        return ()
    return tuple(wanted for wanted, _, _ in wanted_changes(wish, cruising_mps))


def _gears(now: Gearing, after: Gearing | None, rpm: float, limit_rpm: float | None) -> tuple[GearSpeeds, ...]:
    speeds = now.speed_per_1000rpm_mps
    later: tuple[float, ...] | tuple[None, ...] = (
        after.speed_per_1000rpm_mps if after is not None else (None,) * len(speeds)
    )
    steps: list[float | None] = [
        1 / step if lower + 1 == higher else None
        for step, lower, higher in zip(step_ratios(speeds), now.gears[:-1], now.gears[1:], strict=True)
    ]
    return tuple(
        GearSpeeds(
            gear=gear,
            now_mps=_at(speed, rpm) or 0.0,
            after_mps=_at(other, rpm),
            limit_now_mps=_at(speed, limit_rpm),
            limit_after_mps=_at(other, limit_rpm),
            step_to_next=step,
        )
        for gear, speed, other, step in zip(now.gears, speeds, later, [*steps, None][: len(speeds)], strict=True)
    )


def _at(speed_per_1000rpm_mps: float | None, rpm: float | None) -> float | None:
    return None if speed_per_1000rpm_mps is None or rpm is None else speed_per_1000rpm_mps * rpm / 1000


def _cruise(now: Gearing, change: float | None, cruise_mps: tuple[float, ...]) -> tuple[CruiseRpm, ...]:
    highest = list(zip(now.gears, now.speed_per_1000rpm_mps, strict=True))[-2:]
    return tuple(
        _cruise_rpm(speed, gear, 1000 * speed / per_1000, change) for speed in cruise_mps for gear, per_1000 in highest
    )


def _cruise_from(known: Hold, change: float | None, cruise_mps: tuple[float, ...]) -> tuple[CruiseRpm, ...]:
    """Engine speed is in proportion to road speed in any one gear, so one pair tells the others."""
    return tuple(
        _cruise_rpm(speed, None, known.rpm * speed / known.speed_mps, change)
        for speed in cruise_mps or (known.speed_mps,)
    )


def _cruise_rpm(speed_mps: float, gear: int | None, now_rpm: float, change: float | None) -> CruiseRpm:
    return CruiseRpm(speed_mps, gear, now_rpm, None if change is None else now_rpm / change)


def _instruments(bike: Bike, now: Gearing, after: Gearing | None) -> tuple[InstrumentEffect, ...]:
    if after is None:
        return ()
    return instrument_effects(bike.speedometer.driven_from, *change_factors(now, after.final_drive, after.tyre))


def _chain(now: Gearing, after: Gearing | None) -> tuple[ChainFit | None, str]:
    if after is None or after.pair is None or after.pair == now.pair:
        return None, ""
    try:
        return chain_fit(now.final_drive, after.pair), ""
    except ValueError as error:
        return None, str(error)
