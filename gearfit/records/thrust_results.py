"""Records of the swap on paper: what one ride's thrust says about another final drive. SI units, unit in the name."""

from __future__ import annotations

from dataclasses import dataclass

from gearfit.records.estimate import Estimate


@dataclass(frozen=True)
class TorqueCurve:
    """Torque at the wheel divided by the overall ratio, losses of the drive taken off; each tuple of one length.

    It rests on the mass: 1 % of mass is 1 % of torque. Where no overall ratio is known it is thrust times the way per
    engine turn, over 2 pi, which is the same.
    """

    engine_rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    lo95_nm: tuple[float, ...]
    hi95_nm: tuple[float, ...]


@dataclass(frozen=True)
class GearThrust:
    """Thrust at the wheel in one gear against road speed [N]."""

    gear: int
    speed_mps: tuple[float, ...]
    thrust_n: tuple[float, ...]
    lo95_n: tuple[float, ...]
    hi95_n: tuple[float, ...]


@dataclass(frozen=True)
class SpeedCourse:
    """Speed against time of a standing start on paper; `gear` is 0 during the launch and in shifts."""

    time_s: tuple[float, ...]
    speed_mps: tuple[float, ...]
    gear: tuple[int, ...]
    shift_s: tuple[float, ...]
    shift_mps: tuple[float, ...]


@dataclass(frozen=True)
class Gearing:
    """One side of the swap.

    Attributes
    ----------
    name : str
        Setup, or the teeth that were asked for.
    thrust : tuple of GearThrust
        First gear first.
    best_shift_mps : tuple of float or None
        Speed at which the next gear pulls as hard, per gear but the last; None: the limit comes first.
    top_mps : float or None
        Where thrust meets the resistance in some gear; None where the limit comes first.
    course : SpeedCourse or None
        None where no start was seen.
    """

    name: str
    thrust: tuple[GearThrust, ...]
    best_shift_mps: tuple[float | None, ...]
    top_mps: float | None
    course: SpeedCourse | None


@dataclass(frozen=True)
class SpanPrediction:
    """One span on paper; times are None where a speed is not reached. `shifts_*` count changes of gear in it."""

    from_mps: float
    to_mps: float
    how: str
    gears: tuple[int, ...]
    reference_s: Estimate | None
    other_s: Estimate | None
    difference_s: Estimate | None
    shifts_reference: int
    shifts_other: int


@dataclass(frozen=True)
class HardestRiding:
    """The hardest riding of a ride that is not seen to be full throttle, from which no times are predicted.

    Attributes
    ----------
    stretches, gears : int
        How many stretches, and in how many gears.
    reached_rpm : float
        Engine speed reached in two gears; 0 where there is but one.
    limit_rpm : float or None
        As stated.
    reaches : bool
        Whether that is near enough to the limit; if so, the thrust does not repeat as with an open throttle.
    """

    stretches: int
    gears: int
    reached_rpm: float
    limit_rpm: float | None
    reaches: bool


@dataclass(frozen=True)
class SwapOnPaper:
    """What the ride of one setup says about another gearing.

    Attributes
    ----------
    reference, other : Gearing
        As ridden, and on paper.
    thrust_percent, speed_percent : float
        Change of thrust at the same engine torque and of road speed at the same engine speed (mean of the gears).
    mass_kg : float
        To which forces and torque refer.
    mass_stated : bool
        Whether bike.toml states it.
    curve : TorqueCurve
        Of the engine.
    resistance_mps, resistance_n : tuple of float
        Resistance on the level against speed.
    drag_from : str
        "coasting" where the ride shows it, "stated" where bike.toml states the drag area, else "assumed".
    starts, shifts, stretches : int
        What was seen.
    shift_rpm : Estimate or None
        Engine speed on changing up, mean over the shifts.
    shift_s : Estimate or None
        Time without drive in a shift; both None below two runs.
    shift_runs : int
        Runs whose shifts were seen; none: shift speed and time are assumed.
    used_shift_rpm, used_shift_s : float
        Engine speed on changing up and time without drive that the prediction rests on.
    limit_rpm : float
        Engine speed beyond which nothing is claimed: as stated, else a little above the highest seen.
    held_back : bool
        Whether first gear more likely than not pulls less than the engine could: grip, the front wheel or the hand.
    held_back_chance : float
        How likely that is; both ways count in the intervals, as often as they are likely.
    lift_capped : bool
        Whether the stated centre of gravity limits the acceleration with either gearing.
    grip_capped : bool
        Whether the stated grip of the driven tyre does.
    spans : tuple of SpanPrediction
    """

    reference: Gearing
    other: Gearing
    thrust_percent: float
    speed_percent: float
    mass_kg: float
    mass_stated: bool
    curve: TorqueCurve
    resistance_mps: tuple[float, ...]
    resistance_n: tuple[float, ...]
    drag_from: str
    starts: int
    shifts: int
    stretches: int
    shift_rpm: Estimate | None
    shift_s: Estimate | None
    shift_runs: int
    used_shift_rpm: float
    used_shift_s: float
    limit_rpm: float
    held_back: bool
    held_back_chance: float
    lift_capped: bool
    grip_capped: bool
    spans: tuple[SpanPrediction, ...]
