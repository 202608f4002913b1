"""A clutch that slips under load, as physics: what the engine gives beyond what the plates carry turns them.

With w the engine's speed ahead of the gearbox input, T its torque, J what turns with it and n the speed of the input,

    J dw/dt = T - J dn/dt - T_c (1 + w / w_v) ,   w >= 0 ,

T_c what the plates carry before they slip and w_v how fast their friction rises with slip (lining in oil drags more the
faster it slips; textbook form). T_c comes and goes over tens of seconds with heat and oil, and nothing here knows
gears, ratios or how anybody looks for slip.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from tests.simulator.machine import Machine
from tests.simulator.ride import TrueRide

RPM_PER_RADPS: Final = 30.0 / np.pi


@dataclass(frozen=True)
class WornClutch:
    """What the plates carry as a share of the engine's highest torque, and the slip at that torque.

    Attributes
    ----------
    carries : float
        Share of the highest torque that is carried without slip, in the mean.
    slip : float
        Slip at the highest torque, once steady, as a share of the engine speed at which that is given.
    wander_sd, wander_s : float
        How far `carries` comes and goes (relative), and how fast.
    """

    carries: float = 0.7
    slip: float = 0.06
    wander_sd: float = 0.08
    wander_s: float = 20.0


def slipping(ride: TrueRide, clutch: WornClutch, rng: np.random.Generator) -> TrueRide:
    """Return the ride with the engine speeds that this clutch would have let it have; the road speeds are the same."""
    machine, step_s = ride.machine, ride.step_s
    ratios = np.array([np.inf, *machine.overall_ratios])[ride.gear]
    radius = machine.circumference_m / (2 * np.pi)
    torque = np.maximum(ride.thrust_n, 0.0) * radius / (ratios * machine.efficiency)
    locked = ride.engine_rpm / RPM_PER_RADPS
    gathering = machine.engine_inertia_kgm2 * np.gradient(locked, step_s)
    highest_nm = max(machine.torque_nm)
    at_radps = machine.torque_rpm[int(np.argmax(machine.torque_nm))] / RPM_PER_RADPS
    rise_radps = clutch.slip * at_radps / (1 / clutch.carries - 1)
    keeps = np.exp(-step_s / clutch.wander_s)
    ahead, wander = np.zeros(locked.size), clutch.wander_sd * rng.standard_normal()
    kicks = clutch.wander_sd * np.sqrt(1 - keeps**2) * rng.standard_normal(locked.size)
    for k in range(1, locked.size):
        wander = keeps * wander + kicks[k]
        if ride.gear[k] == 0 or ride.gear[k] != ride.gear[k - 1]:
            continue
        carried_nm = clutch.carries * highest_nm * np.exp(wander)
        pushed = ahead[k - 1] + step_s / machine.engine_inertia_kgm2 * (torque[k] - gathering[k] - carried_nm)
        drag = 1 + step_s * carried_nm / (machine.engine_inertia_kgm2 * rise_radps)
        ahead[k] = max(0.0, pushed / drag)
    return replace(ride, engine_rpm=(locked + ahead) * RPM_PER_RADPS)


@dataclass(frozen=True)
class SlippingMachine(Machine):
    """A machine with a worn clutch, held at a steady speed: dw/dt = 0 above."""

    clutch: WornClutch = WornClutch()

    def held_speed_mps(self, engine_rpm: float, gear: int) -> float:
        """Steady road speed on the level at an engine speed, the clutch slipping where it cannot carry the load."""
        highest_nm = max(self.torque_nm)
        at_rpm = self.torque_rpm[int(np.argmax(self.torque_nm))]
        rise_rpm = self.clutch.slip * at_rpm / (1 / self.clutch.carries - 1)
        radius = self.circumference_m / (2 * np.pi)
        ahead_rpm = 0.0
        for _ in range(30):
            speed = super().held_speed_mps(engine_rpm - ahead_rpm, gear)
            torque = self.road_load_n(speed) * radius / (self.overall_ratios[gear - 1] * self.efficiency)
            ahead_rpm += 0.3 * (max(0.0, rise_rpm * (torque / (self.clutch.carries * highest_nm) - 1)) - ahead_rpm)
        return super().held_speed_mps(engine_rpm - ahead_rpm, gear)


def worn(machine: Machine, clutch: WornClutch) -> SlippingMachine:
    """Return the machine with this clutch."""
    return SlippingMachine(**{field.name: getattr(machine, field.name) for field in fields(machine)}, clutch=clutch)
