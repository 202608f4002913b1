"""What goes wrong with a ride before it is written down, and with a file afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from tests import fuzz
from tests.odd_folders.machines import Floats, Ride

#: Shares of files cut anywhere, and changed in single bytes; most files are whole.
CUT, CHANGED = 0.12, 0.08


def odd_ride(rng: np.random.Generator, ride: Ride) -> Ride:
    """Spoil a ride in no to two ways."""
    for place in rng.permutation(len(_WAYS))[: int(rng.choice([0, 1, 2], p=[0.55, 0.3, 0.15]))]:
        ride = _WAYS[place](rng, ride)
    return ride


def odd_file(rng: np.random.Generator, content: bytes) -> bytes:
    """Spoil a file, or leave it as it is."""
    chance = rng.random()
    if chance < CUT:
        return content[: int(rng.integers(len(content) + 1))]
    if chance < CUT + CHANGED:
        data = bytearray(content)
        for _ in range(int(rng.integers(1, 4))):
            fuzz.mutate(rng, data)
        return bytes(data)
    return content


def _rows(ride: Ride, rows: slice | np.ndarray) -> Ride:
    return Ride(ride.time_s[rows], ride.gear[rows], ride.rpm[rows], ride.speed_mps[rows])


def _few_rows(rng: np.random.Generator, ride: Ride) -> Ride:
    return _rows(ride, slice(0, int(rng.integers(0, 4))))


def _a_part(rng: np.random.Generator, ride: Ride) -> Ride:
    first, last = np.sort(rng.integers(0, ride.gear.size + 1, 2))
    return _rows(ride, slice(int(first), int(last)))


def _with_a_gap(rng: np.random.Generator, ride: Ride) -> Ride:
    later = ride.time_s >= (rng.choice(ride.time_s) if ride.time_s.size else 0.0)
    return replace(ride, time_s=ride.time_s + later * float(rng.choice([30, 900, 86400])))


def _repeated_times(rng: np.random.Generator, ride: Ride) -> Ride:
    return replace(ride, time_s=np.floor(ride.time_s / float(rng.choice([1, 2, 10]))))


def _one_time(rng: np.random.Generator, ride: Ride) -> Ride:
    return replace(ride, time_s=np.zeros_like(ride.time_s))


def _zeros(rng: np.random.Generator, ride: Ride) -> Ride:
    kept = rng.random(ride.gear.size) < float(rng.choice([0, 0.1, 0.9]))
    return replace(ride, speed_mps=ride.speed_mps * kept) if rng.random() < 0.5 else replace(ride, rpm=ride.rpm * kept)


def _constant(rng: np.random.Generator, ride: Ride) -> Ride:
    """One speed, one engine speed, or both all the time."""
    which = int(rng.integers(3))
    speed: Floats = np.full_like(ride.speed_mps, 20.0) if which != 1 else ride.speed_mps
    rpm: Floats = np.full_like(ride.rpm, 4000.0) if which != 0 else ride.rpm
    return replace(ride, speed_mps=speed, rpm=rpm)


def _scaled(rng: np.random.Generator, ride: Ride) -> Ride:
    """As if a unit were mistaken."""
    by = float(rng.choice([0.01, 0.1, 1 / 3.6, 1.609, 3.6]))
    return replace(ride, speed_mps=ride.speed_mps * by) if rng.random() < 0.5 else replace(ride, rpm=ride.rpm * by)


def _stray(rng: np.random.Generator, ride: Ride) -> Ride:
    """Single values far off."""
    hit = rng.random(ride.gear.size) < 0.03
    factor = np.where(hit, rng.choice([0.0, 0.5, 3.0, 1000.0], ride.gear.size), 1.0)
    return replace(ride, speed_mps=ride.speed_mps * factor)


def _shuffled(rng: np.random.Generator, ride: Ride) -> Ride:
    return _rows(ride, rng.permutation(ride.gear.size))


def _twice(rng: np.random.Generator, ride: Ride) -> Ride:
    return _rows(ride, np.repeat(np.arange(ride.gear.size), 2))


_WAYS: Final[tuple[Callable[[np.random.Generator, Ride], Ride], ...]] = (
    _few_rows,
    _a_part,
    _with_a_gap,
    _repeated_times,
    _one_time,
    _zeros,
    _constant,
    _scaled,
    _stray,
    _shuffled,
    _twice,
)
