"""Everything that a ride says about thrust, put together: torque, drag, first gear held back, launches and shifts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.bike import Bike
from gearfit.fitting.correlated import Noise
from gearfit.fitting.noise import noise_of
from gearfit.recording import RideSetup
from gearfit.results import SetupResult
from gearfit.thrust.coasting import coasting
from gearfit.thrust.envelope import Open, open_throttle
from gearfit.thrust.fit import ThrustFit, Turning, fit_thrust
from gearfit.thrust.habits import SeenLaunch, SeenShift, seen_launches, seen_shifts
from gearfit.thrust.machine import Machine, lever_per_m
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
#: A first gear that pulls less than this share of what the other gears' torque gives is held back.
_HELD_BACK: Final = 0.95
#: Noise of a receiver's speed where the ride does not show it.
_USUAL_NOISE: Final = Noise(0.04, 0.08, 1.5, 0.0)
_MOST_STRETCHES: Final = 150
#: Fewer samples with the throttle open are no torque curve; misfits beyond three times the noise are no open throttle.
_LEAST_SAMPLES: Final = 20
_MOST_CHI_SQUARE: Final = 9.0


@dataclass(frozen=True, eq=False)
class Ridden:
    """What the ride shows; `best` has one row, the best values.

    `cap_mps2` and its standard error are those of a first gear that is held back; infinite and 0 where it is not.
    """

    mass_kg: float
    fit: ThrustFit
    best: Machine
    stretches: tuple[Open, ...]
    coasted: int
    launches: tuple[SeenLaunch, ...]
    shifts: tuple[SeenShift, ...]
    cap_mps2: float
    cap_se_mps2: float


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
    firsts = _first_gear(logs, opened) if 1 in per_rpm else []
    upper = [s for s in opened if s.gear > 1]
    held, cap, cap_se = False, np.inf, 0.0
    if upper and firsts:
        held, cap, cap_se = _held_back(firsts, fit_thrust([*upper, *coasted], per_rpm, drag, turning, noise), per_rpm)
    used = upper if held else opened
    fit = fit_thrust([*used, *coasted], per_rpm, drag, turning, noise)
    if fit.chi_square > _MOST_CHI_SQUARE:
        return None
    best = machine_of(fit, fit.value[None, :], per_rpm, np.array([cap if held else np.inf]), limit_rpm(bike, fit))
    in_first = firsts if held else [s for s in opened if s.gear == 1]
    followed = [*used, *firsts] if held else used
    return Ridden(
        mass_kg,
        fit,
        best,
        tuple(used),
        len(coasted),
        tuple(seen_launches(in_first, per_rpm[1])) if 1 in per_rpm else (),
        tuple(seen_shifts(followed, best)),
        cap if held else np.inf,
        cap_se if held else 0.0,
    )


def _turning(bike: Bike, mass_kg: float) -> Turning:
    stated_kg = bike.motion.rotating_kg
    wheels, spread = (WHEELS_SHARE, WHEELS_LOG_SD) if stated_kg is None else (stated_kg / mass_kg, _STATED_LOG_SD)
    return Turning(wheels, spread, ENGINE_KGM2 / mass_kg, ENGINE_LOG_SD)


def limit_rpm(bike: Bike, fit: ThrustFit) -> float:
    """Engine speed beyond which nothing is claimed: the stated limit, else a little above the highest seen."""
    return bike.engine.limit_rpm or 1.03 * fit.curve.high_rpm


def machine_of(
    fit: ThrustFit, values: FloatArray, per_rpm: dict[int, float], cap_mps2: FloatArray, limit: float
) -> Machine:
    """Turn rows of solutions (n, k + 4) into machines; gears that were not ridden are left out at the top."""
    k = fit.curve.size
    count = next((gear for gear in range(1, max(per_rpm) + 1) if gear not in per_rpm), max(per_rpm) + 1) - 1
    return Machine(
        speed_per_rpm_mps=tuple(per_rpm[gear] for gear in range(1, count + 1)),
        curve=fit.curve,
        torque_per_kg=np.maximum(values[:, :k], 1e-6),
        rolling_mps2=np.maximum(values[:, k], 0.0),
        air_per_m=np.maximum(values[:, k + 1], 0.0),
        wheels=np.exp(values[:, k + 2]),
        engine_m2=np.exp(values[:, k + 3]),
        cap_mps2=cap_mps2,
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


def _first_gear(logs: list[Trace], opened: list[Open]) -> list[Open]:
    """Return the passages of first gear out of which the rider shifted into an open second."""
    found = []
    for trace in logs:
        seconds = [s for s in opened if s.trace is trace and s.gear == 2]
        for piece in trace.pieces(trace.gear == 1):
            end = trace.time_s[piece.stop - 1]
            if piece.stop - piece.start >= 3 and any(0 < s.trace.time_s[s.place.start] - end < 1.6 for s in seconds):
                found.append(Open(trace, piece, 1))
    return found


def _held_back(firsts: list[Open], fit: ThrustFit, per_rpm: dict[int, float]) -> tuple[bool, float, float]:
    """Whether first gear pulls less than the torque seen in the others; its thrust per mass and standard error."""
    k = fit.curve.size
    lever = lever_per_m(per_rpm[1])
    inertia = 1 + np.exp(fit.value[k + 2]) + np.exp(fit.value[k + 3]) * lever**2
    seen, could = [], []
    for first in firsts:
        time, speed = first.trace.time_s[first.place], first.trace.speed_mps[first.place]
        pull = float(np.polynomial.polynomial.polyfit(time - time[0], speed, 1)[1])
        load = float(np.mean(fit.value[k] + fit.value[k + 1] * speed**2 + first.trace.hill_mps2[first.place]))
        seen.append(inertia * pull + load)
        could.append(float(np.mean(lever * (fit.curve.basis(speed / per_rpm[1]) @ fit.value[:k]))))
    thrust = np.array(seen)
    ratio = thrust / np.array(could)
    mean, se = float(np.mean(ratio)), float(np.std(ratio, ddof=1) / ratio.size**0.5) if ratio.size > 1 else 0.05
    cap_se = float(np.std(thrust, ddof=1) / thrust.size**0.5) if thrust.size > 1 else 0.05 * float(thrust[0])
    return mean < _HELD_BACK and mean + 3 * se < 1.0, float(np.mean(thrust)), cap_se
