"""The machine in the terms of the equation of motion, for n curves at once (draws from what the ride left open).

Everything is divided by the mass of machine and rider, which therefore cancels out of all times:

    a_g(v) = (min(G tau(n), cap) - a0 - b v^2) / (1 + w + j G^2),      G = 2 pi / (60 s_g),  n = v / s_g     (T2)

with s_g the road speed per engine speed, tau the engine's torque at the wheel's side of all losses, per mass; w the
wheels' and j the engine's moment of inertia in the form of masses, per mass; cap the thrust of a first gear that was
held back. Front wheel and grip, where stated, bound the acceleration: (T4) and (T5) in `gearfit.thrust.limits`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.thrust.clock import Clock, clock
from gearfit.thrust.curve import RpmCurve
from gearfit.units import SECONDS_PER_MINUTE

FloatArray = NDArray[np.float64]


def lever_per_m(speed_per_rpm_mps: float) -> float:
    """Return G, thrust for each unit of torque: engine angle per way, rad/m."""
    return 2 * math.pi / (SECONDS_PER_MINUTE * speed_per_rpm_mps)


@dataclass(frozen=True, eq=False)
class Machine:
    """Curves drawn from what a ride leaves open; arrays have n rows, one for each draw.

    Attributes
    ----------
    speed_per_rpm_mps : tuple of float
        In each gear, first gear first.
    curve : RpmCurve
        Basis of the torque curve.
    torque_per_kg : (n, k) float
        Its coefficients, N m/kg.
    rolling_mps2, air_per_m : (n,) float
        Resistance per mass.
    wheels, engine_m2 : (n,) float
        Turning parts per mass: wheels (no unit) and engine, m^2.
    cap_mps2 : (n,) float
        Highest thrust per mass that the rider used in first gear; infinite where it was not held back.
    limit_rpm : float
        Where the engine gives no more.
    lift_mps2 : float
        Acceleration plus air resistance per mass at which the front wheel lifts; infinite where not stated.
    grip_mps2 : float
        Force at the contact per mass at which the driven tyre lets go; infinite where not stated.
    """

    speed_per_rpm_mps: tuple[float, ...]
    curve: RpmCurve
    torque_per_kg: FloatArray
    rolling_mps2: FloatArray
    air_per_m: FloatArray
    wheels: FloatArray
    engine_m2: FloatArray
    cap_mps2: FloatArray
    limit_rpm: float
    lift_mps2: float = math.inf
    grip_mps2: float = math.inf

    def best(self) -> Machine:
        """Return the first row alone."""
        names = ("torque_per_kg", "rolling_mps2", "air_per_m", "wheels", "engine_m2", "cap_mps2")
        return replace(self, **{name: getattr(self, name)[:1] for name in names})

    def geared(self, factors: tuple[float, ...]) -> Machine:
        """Return the machine with the road speed at the same engine speed multiplied by a factor in each gear."""
        pairs = zip(self.speed_per_rpm_mps, factors, strict=True)
        return replace(self, speed_per_rpm_mps=tuple(speed * factor for speed, factor in pairs))

    def thrust_mps2(self, gear: int, speed_mps: FloatArray) -> FloatArray:
        """Thrust at the wheel per mass in a gear (1 = first), shape (n, m); 0 beyond the limit."""
        per_rpm = self.speed_per_rpm_mps[gear - 1]
        rpm = speed_mps / per_rpm
        drive = np.minimum(
            lever_per_m(per_rpm) * (self.torque_per_kg @ self.curve.basis(rpm).T), self.cap_mps2[:, None]
        )
        if math.isfinite(min(self.lift_mps2, self.grip_mps2)):
            most = self.allowed_mps2(self.air_per_m[:, None] * speed_mps**2)
            drive = np.minimum(drive, self.inertia(gear)[:, None] * most + self.resistance_mps2(speed_mps))
        return np.where(rpm > self.limit_rpm, 0.0, drive)

    def allowed_mps2(self, air_mps2: FloatArray) -> FloatArray:
        """Highest acceleration (n, m) that front wheel and grip allow at an air resistance per mass (n, m)."""
        return np.minimum(self.lift_mps2 - air_mps2, (self.grip_mps2 - air_mps2) / (1 + self.wheels[:, None] / 2))

    def resistance_mps2(self, speed_mps: FloatArray) -> FloatArray:
        """Resistance per mass, shape (n, m)."""
        return self.rolling_mps2[:, None] + self.air_per_m[:, None] * speed_mps**2

    def acceleration_mps2(self, gear: int, speed_mps: FloatArray) -> FloatArray:
        """Acceleration with the throttle open and the clutch in, shape (n, m)."""
        return (self.thrust_mps2(gear, speed_mps) - self.resistance_mps2(speed_mps)) / self.inertia(gear)[:, None]

    def inertia(self, gear: int) -> FloatArray:
        """Mass to be moved in a gear over the mass at rest, shape (n,)."""
        return 1 + self.wheels + self.engine_m2 * lever_per_m(self.speed_per_rpm_mps[gear - 1]) ** 2

    def clocks(self, top_mps: float) -> tuple[Clock, ...]:
        """Time against speed in each gear."""
        gears = range(1, len(self.speed_per_rpm_mps) + 1)
        return tuple(clock(lambda v, g=gear: self.acceleration_mps2(g, v), top_mps) for gear in gears)  # type: ignore[misc]
