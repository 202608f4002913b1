"""The elements of a script: each says what the rider does next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from tests.simulator.rider import Rider


class Manoeuvre(Protocol):
    """Something that a rider can be told to do."""

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""


@dataclass(frozen=True)
class Standstill:
    """Stand in neutral, engine idling."""

    duration_s: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.stand(self.duration_s)


@dataclass(frozen=True)
class Launch:
    """Full-throttle start with slipping clutch through the gears to `to_mps`, shifting at `shift_rpm`."""

    to_mps: float
    shift_rpm: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.full_throttle(self.to_mps, self.shift_rpm, rider.motion.machine.gear_count)


@dataclass(frozen=True)
class Hold:
    """Hold an engine speed in a gear (1 = first); the time counts from when it is reached."""

    gear: int
    engine_rpm: float
    duration_s: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        target_mps = rider.motion.machine.held_speed_mps(self.engine_rpm, self.gear)
        rider.bring_to(self.gear, target_mps)
        end = rider.motion.time + self.duration_s
        while rider.motion.time < end:
            rider.follow(target_mps)


@dataclass(frozen=True)
class RollOn:
    """Full throttle in one gear from one engine speed to another."""

    gear: int
    from_rpm: float
    to_rpm: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        machine = rider.motion.machine
        rider.bring_to(self.gear, machine.speed_mps(self.from_rpm, self.gear))
        rider.full_throttle(machine.speed_mps(self.to_rpm, self.gear), machine.limit_rpm, self.gear)


@dataclass(frozen=True)
class EngineBraking:
    """Close the throttle in the gear that is in, down to an engine speed (or for 20 s)."""

    to_rpm: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.close_throttle(self.to_rpm)


@dataclass(frozen=True)
class Coast:
    """Roll in neutral."""

    duration_s: float

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.coast(self.duration_s)


@dataclass(frozen=True)
class Stop:
    """Brake to a standstill."""

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.stop()


@dataclass(frozen=True)
class UTurn:
    """Slow down to walking pace in first gear, creep round for `duration_s`."""

    duration_s: float = 5.0
    speed_mps: float = 3.0

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        rider.bring_to(1, self.speed_mps, longest_s=20.0)
        end = rider.motion.time + self.duration_s
        while rider.motion.time < end:
            rider.follow(self.speed_mps)


@dataclass(frozen=True)
class Traffic:
    """Random target speeds, gentle choice of gears, now and then a stop; until `until_s` after the start of the ride.

    `low_mps` and `high_mps` bound the targets; `stop_share` is the share of targets that are a stop;
    the gear is changed down and up at about `down_share` and `up_share` of the limit.
    """

    until_s: float
    low_mps: float
    high_mps: float
    stop_share: float = 0.12
    down_share: float = 0.27
    up_share: float = 0.55

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        motion, rng = rider.motion, rider.rng
        while motion.time < self.until_s:
            if rng.random() < self.stop_share:
                rider.stop(float(rng.uniform(1.2, 2.8)))
                rider.stand(float(rng.uniform(4.0, 14.0)))
                continue
            target_mps = float(rng.uniform(self.low_mps, self.high_mps))
            pull_mps2 = float(rng.uniform(0.8, 2.4))
            up_rpm = motion.machine.limit_rpm * self.up_share * float(rng.uniform(0.8, 1.2))
            down_rpm = motion.machine.limit_rpm * self.down_share * float(rng.uniform(0.85, 1.15))
            end = min(self.until_s, motion.time + float(rng.uniform(8.0, 24.0)))
            while motion.time < end:
                rider.keep_gear(down_rpm, up_rpm)
                rider.follow(target_mps, pull_mps2)
