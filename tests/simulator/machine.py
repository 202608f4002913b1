"""What a simulated machine is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from gearfit.machine.bike import Bike

#: Standard acceleration of free fall in m/s^2 (3rd CGPM, 1901).
GRAVITY_MPS2: Final = 9.80665
#: Density of air in kg/m^3 at 15 degC and 101325 Pa (ISO 2533 standard atmosphere).
AIR_DENSITY_KGPM3: Final = 1.225


@dataclass(frozen=True)
class Machine:
    """An invented machine with one setup fitted: its gearing as specified, and the truth that the papers do not tell.

    Attributes
    ----------
    bike : Bike
        Papers; `gearbox.primary`, `gearbox.gears` and the setup's tooth counts must be stated.
    setup : str
        Name of the setup that is fitted.
    circumference_m : float
        True rolling circumference at low speed.
    mass_kg : float
        Machine, rider, load and fuel.
    torque_rpm, torque_nm : tuple of float
        Full-throttle torque at the crankshaft against engine speed, ascending; linear in between, constant outside.
    idle_rpm, limit_rpm : float
        Engine speed when idling and where the limiter cuts in.
    launch_rpm : float
        Engine speed that the rider holds while the clutch slips in a full-throttle start.
    closed_torque_nm : float
        Torque that the engine takes up at `limit_rpm` with the throttle closed; proportional to engine speed.
    drag_area_m2 : float
        Drag coefficient times frontal area.
    rolling_coefficient : float
        Rolling resistance per weight.
    air_density_kgpm3 : float
        Density of the air.
    efficiency : float
        Of the drive from crankshaft to wheel.
    engine_inertia_kgm2 : float
        Of everything that turns with the crankshaft.
    wheel_mass_kg : float
        Both wheels' moment of inertia over the square of their radius.
    shift_time_s : float
        Time without drive in a change of gear.
    slip_per_n : float
        Drive slip for each newton of thrust: v = n C (1 - slip) / (60 i).
    growth_per_mps2 : float
        Growth of the tyre: C(v) = C (1 + growth v^2).
    thrust_limit_n : float
        Highest force at the wheel that the rider uses, for grip or a light front wheel.
    """

    bike: Bike
    setup: str
    circumference_m: float
    mass_kg: float
    torque_rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    idle_rpm: float
    limit_rpm: float
    launch_rpm: float
    closed_torque_nm: float
    drag_area_m2: float = 0.55
    rolling_coefficient: float = 0.016
    air_density_kgpm3: float = AIR_DENSITY_KGPM3
    efficiency: float = 0.92
    engine_inertia_kgm2: float = 0.008
    wheel_mass_kg: float = 14.0
    shift_time_s: float = 0.35
    slip_per_n: float = 3e-6
    growth_per_mps2: float = 0.0
    thrust_limit_n: float = math.inf

    def __post_init__(self) -> None:
        """Refuse a machine whose gearing is not stated."""
        if self.bike.overall_ratios(self.bike.setup(self.setup)) is None:
            raise ValueError(f"setup {self.setup!r}: primary, gears, front and rear must all be stated")

    def fitted_with(self, setup: str) -> Machine:
        """Return the same machine with another of its setups fitted."""
        return replace(self, setup=setup)

    @property
    def overall_ratios(self) -> tuple[float, ...]:
        """Engine turns per wheel turn, first gear first: primary x gear x rear/front."""
        ratios = self.bike.overall_ratios(self.bike.setup(self.setup))
        assert ratios is not None
        return ratios

    @property
    def gear_count(self) -> int:
        """Number of gears."""
        return len(self.overall_ratios)

    @property
    def engaged_rpm(self) -> float:
        """Lowest engine speed at which the rider lets the clutch fully in."""
        return 1.25 * self.idle_rpm

    def circumference_at(self, speed_mps: float) -> float:
        """Return the rolling circumference in metres at a speed."""
        return self.circumference_m * (1.0 + self.growth_per_mps2 * speed_mps * speed_mps)

    def engine_rpm(self, speed_mps: float, gear: int, thrust_n: float = 0.0) -> float:
        """Engine speed in `gear` (1 = first) at a speed: n = 60 i v / (C (1 - slip))."""
        rolling_m = self.circumference_at(speed_mps) * (1.0 - self.slip_per_n * thrust_n)
        return 60.0 * self.overall_ratios[gear - 1] * speed_mps / rolling_m

    def speed_mps(self, engine_rpm: float, gear: int, thrust_n: float = 0.0) -> float:
        """Road speed in `gear` (1 = first) at an engine speed: v = n C (1 - slip) / (60 i)."""
        per_metre = engine_rpm * (1.0 - self.slip_per_n * thrust_n) / (60.0 * self.overall_ratios[gear - 1])
        speed = per_metre * self.circumference_m
        if self.growth_per_mps2 == 0.0:
            return speed
        # v = k C (1 + g v^2): the smaller root of g k C v^2 - v + k C = 0.
        return 2.0 * speed / (1.0 + math.sqrt(1.0 - 4.0 * self.growth_per_mps2 * speed * speed))

    def speed_per_1000rpm_mps(self, gear: int) -> float:
        """Road speed at 1000 rev/min in `gear` (1 = first), without slip or growth."""
        return 1000.0 * self.circumference_m / (60.0 * self.overall_ratios[gear - 1])

    def road_load_n(self, speed_mps: float, grade: float = 0.0) -> float:
        """Return rolling resistance, air drag and the pull of the slope (`grade` = rise / way) in newtons."""
        weight_n = self.mass_kg * GRAVITY_MPS2
        drag_n = 0.5 * self.air_density_kgpm3 * self.drag_area_m2 * speed_mps * speed_mps
        return (self.rolling_coefficient if speed_mps > 0.0 else 0.0) * weight_n + weight_n * grade + drag_n

    def held_speed_mps(self, engine_rpm: float, gear: int) -> float:
        """Steady road speed on the level at an engine speed, with the slip that the road load causes."""
        speed = self.speed_mps(engine_rpm, gear)
        return self.speed_mps(engine_rpm, gear, self.road_load_n(speed))

    def torque_table_nm(self, step_rpm: float = 25.0) -> list[float]:
        """Full-throttle torque at 0, `step_rpm`, 2 `step_rpm` ... up to beyond the limit."""
        grid = np.arange(0.0, 1.2 * self.limit_rpm + step_rpm, step_rpm)
        return [float(value) for value in np.interp(grid, self.torque_rpm, self.torque_nm)]
