"""Climb and lift as plain text."""

from __future__ import annotations

from gearfit.prediction.lift import USUAL_GRIP, Climb, GearClimb
from gearfit.prediction.swap import SwapPrediction
from gearfit.records.words import NOTHING, number
from gearfit.wording.columns import bullets, table


def climb_lines(prediction: SwapPrediction) -> list[str]:
    """Write the tables now and after; empty where nothing is stated to reckon with."""
    now, after = prediction.climb_now, prediction.climb_after
    if now is None:
        return []
    torque = now.gears[0].thrust_n is not None
    placed = now.lift_acceleration_mps2 is not None
    lines = []
    for label, climb in (("now", now), ("after", after)):
        if climb is not None:
            rows = [_row(gear, torque, placed) for gear in climb.gears]
            lines += table(_head(label, torque, placed), rows, words_last=torque)
    return lines + bullets(_remarks(now, torque, placed))


def _head(label: str, torque: bool, placed: bool) -> list[str]:
    return [
        f"gear, {label}",
        *(["thrust N", "thrust alone m/s²", "climbs %"] if torque else []),
        *(["lifts the front at N m"] if placed else []),
        *(["front wheel"] if torque and placed else []),
        *(["climb ends by"] if torque else []),
    ]


def _row(gear: GearClimb, torque: bool, placed: bool) -> list[str]:
    return [
        str(gear.gear),
        *(
            [number(gear.thrust_n, 0), number(gear.acceleration_mps2, 1), number(gear.climb_percent, 0)]
            if torque
            else []
        ),
        *([number(gear.lift_torque_nm, 0)] if placed else []),
        *([NOTHING if gear.lifts is None else "lifts" if gear.lifts else "stays down"] if torque and placed else []),
        *([gear.climb_limit or NOTHING] if torque else []),
    ]


def _remarks(climb: Climb, torque: bool, placed: bool) -> list[str]:
    said = []
    if placed:
        said.append(
            f"The front wheel carries nothing from {number(climb.lift_acceleration_mps2, 1)} m/s² on the level, or on a "
            f"steady climb of {number(climb.lift_grade_percent, 0)} %, in whatever gear."
        )
    else:
        said.append("Whether the front wheel lifts cannot be told: state cg_height_mm and cg_to_rear_mm.")
    said.append(_steepest(climb))
    if not torque:
        said.append("Thrust and grade cannot be told: state torque_nm.")
    said.append(
        "Arithmetic from the highest torque, losses and drag left out, so real figures are lower; it is no advice to try. A rider who moves shifts the centre of gravity."
    )
    return said


def _steepest(climb: Climb) -> str:
    """Say which climb no thrust gets beyond, and what ends it."""
    lift, grip = climb.lift_grade_percent, climb.grip_grade_percent
    rules = "the front wheel" if lift is not None and lift < grip else "the grip of the driven tyre"
    steepest = grip if lift is None else min(lift, grip)
    stated = f"tyre_grip {climb.grip:g}, thrust over load; {USUAL_GRIP:g} is taken for dry road where none is stated"
    return f"No thrust climbs steeper than {number(steepest, 0)} %: there {rules} rules ({stated})."
