"""Everything that a ride says about thrust, put together: torque, drag, first gear, launches and shifts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.noise import noise_of
from gearfit.machine.bike import Bike
from gearfit.records.recording import RideSetup
from gearfit.records.results import SetupResult
from gearfit.records.thrust_results import HardestRiding
from gearfit.thrust.coasting import coasting
from gearfit.thrust.envelope import Open, open_throttle
from gearfit.thrust.first_gear import Weighed, hard_starts, weighed
from gearfit.thrust.fit import Question, ThrustFit, Turning
from gearfit.thrust.full_throttle import short_of_full_throttle
from gearfit.thrust.habits import SeenLaunch, SeenShift, seen_launches, seen_shifts
from gearfit.thrust.machine import Machine
from gearfit.thrust.resistance import resistance_of, usual
from gearfit.thrust.traces import Trace, traces

FloatArray = NDArray[np.float64]

#: Mass of machine and rider where bike.toml states none, kg: it scales forces alone, times hardly.
USUAL_MASS_KG: Final = 250.0
#: Both wheels as a mass, share of the whole: 4 % for motorcycles (UN GTR 2, estimate allowed there); our spread.
WHEELS_SHARE: Final = 0.04
WHEELS_LOG_SD: Final = 0.35
_STATED_LOG_SD: Final = 0.1
#: Moment of inertia of crankshaft, clutch and what turns with them, kg m^2 (our assumption) and its spread.
ENGINE_KGM2: Final = 0.010
ENGINE_LOG_SD: Final = 0.5
#: Noise of a receiver's speed where the ride does not show it.
_USUAL_NOISE: Final = Noise(0.04, 0.08, 1.5, 0.0)
_MOST_STRETCHES: Final = 150
#: Fewer samples with the throttle open are no torque curve; misfits beyond three times the noise are no open throttle.
_LEAST_SAMPLES: Final = 20
_MOST_CHI_SQUARE: Final = 9.0


@dataclass(frozen=True, eq=False)
class Ridden:
    """What the ride shows; `best` has one row, the best values of the likelier of the `weighed` fits.

    `short` is None where full throttle was seen.
    """

    mass_kg: float
    weighed: tuple[Weighed, ...]
    best: Machine
    stretches: tuple[Open, ...]
    coasted: int
    launches: tuple[SeenLaunch, ...]
    shifts: tuple[SeenShift, ...]
    short: HardestRiding | None

    @property
    def fit(self) -> ThrustFit:
        """The likelier fit."""
        return self.weighed[0].fit

    @property
    def held_back(self) -> float:
        """Probability that something held first gear back."""
        return sum(one.weight for one in self.weighed if np.isfinite(one.fit.cap_mps2))


def ridden_thrust(bike: Bike, ride: RideSetup, result: SetupResult) -> Ridden | None:
    """Return what a setup's ride shows; None where it has too little that was ridden with the throttle open.

    From starts alone nothing is read (see docs/swap.md).
    """
    per_rpm = {gear.gear: gear.speed_per_1000rpm_mps.value / 1000 for gear in result.gears}
    mass_kg = bike.total_kg or USUAL_MASS_KG
    drag = resistance_of(bike.motion, ride.setup.conditions, mass_kg)
    turning = _turning(bike, mass_kg)
    logs = traces(ride, result) if per_rpm and not result.gears_by_starts else []
    opened = open_throttle(logs, per_rpm, turning.wheels, turning.engine_m2, drag)[:_MOST_STRETCHES]
    if sum(s.place.stop - s.place.start for s in opened) < _LEAST_SAMPLES:
        return None
    noise = _noise(logs, per_rpm)
    # What is stated must not throw out the coasting that speaks against it.
    wide = usual(mass_kg)
    around = replace(
        drag,
        rolling_sd_mps2=max(drag.rolling_sd_mps2, wide.rolling_sd_mps2),
        air_sd_per_m=max(drag.air_sd_per_m, wide.air_sd_per_m),
    )
    coasted = coasting(logs, per_rpm, around)[:_MOST_STRETCHES]
    firsts = hard_starts(logs, opened) if 1 in per_rpm else []
    firsts = firsts or [s for s in opened if s.gear == 1]
    used = [*(s for s in opened if s.gear > 1), *firsts]
    question = Question([*used, *coasted], per_rpm, drag, turning, noise)
    both = weighed(question)
    fit = both[0].fit
    if fit.chi_square > _MOST_CHI_SQUARE:
        return None
    best = machine_of(fit, fit.value[None, :], per_rpm, limit_rpm(bike, fit))
    return Ridden(
        mass_kg,
        both,
        best,
        tuple(used),
        len(coasted),
        tuple(seen_launches(firsts, per_rpm[1])) if 1 in per_rpm else (),
        tuple(seen_shifts(used, best)),
        short_of_full_throttle(question, both, bike.engine.limit_rpm),
    )


def _turning(bike: Bike, mass_kg: float) -> Turning:
    stated_kg = bike.motion.rotating_kg
    wheels, spread = (WHEELS_SHARE, WHEELS_LOG_SD) if stated_kg is None else (stated_kg / mass_kg, _STATED_LOG_SD)
    return Turning(wheels, spread, ENGINE_KGM2 / mass_kg, ENGINE_LOG_SD)


def limit_rpm(bike: Bike, fit: ThrustFit) -> float:
    """Engine speed beyond which nothing is claimed: the stated limit, else a little above the highest seen."""
    return bike.engine.limit_rpm or 1.03 * fit.curve.high_rpm


def machine_of(fit: ThrustFit, values: FloatArray, per_rpm: dict[int, float], limit: float) -> Machine:
    """Turn rows of solutions (n, k + 4), or (n, k + 5) with a cap, into machines; no gears above one not ridden."""
    k = fit.curve.size
    count = next((gear for gear in range(1, max(per_rpm) + 1) if gear not in per_rpm), max(per_rpm) + 1) - 1
    cap = np.maximum(values[:, k + 4], 1e-6) if values.shape[1] > k + 4 else np.full(values.shape[0], np.inf)
    return Machine(
        speed_per_rpm_mps=tuple(per_rpm[gear] for gear in range(1, count + 1)),
        curve=fit.curve,
        torque_per_kg=np.maximum(values[:, :k], 1e-6),
        rolling_mps2=np.maximum(values[:, k], 0.0),
        air_per_m=np.maximum(values[:, k + 1], 0.0),
        wheels=np.exp(values[:, k + 2]),
        engine_m2=np.exp(values[:, k + 3]),
        cap_mps2=cap,
        limit_rpm=limit,
    )


def _noise(logs: list[Trace], per_rpm: dict[int, float]) -> Noise:
    """Noise of the speed from how samples in gear scatter about their gear."""
    longest = max(logs, key=lambda trace: trace.time_s.size)
    level = np.array([per_rpm.get(gear, np.nan) for gear in range(32)])[longest.gear]
    with np.errstate(divide="ignore", invalid="ignore"):
        residual = np.log(longest.engine_rpm * level / longest.speed_mps)
    use = np.isfinite(residual) & (longest.speed_mps > 3.0)
    found = noise_of(longest.time_s[use], residual[use], longest.speed_mps[use]) if use.sum() >= 30 else None
    if found is None:
        return _USUAL_NOISE
    return Noise(max(found.white_mps, 0.02), found.correlated_mps, found.correlation_s, 0.0)
