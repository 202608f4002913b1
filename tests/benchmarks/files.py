"""Makes the files that are read and timed. The rides are invented."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.importers.gpx_text import gpx, point
from tests.importers.nmea_text import gga, rmc

Floats = NDArray[np.float64]

#: Speed of each gear at 1000 rev/min, m/s, of an invented machine.
LADDER_MPS = (2.4, 3.4, 4.3, 5.1, 5.8, 6.4)
_PULL_S, _SHIFT_S, _STEP_S = 9.0, 0.6, 0.1


def ride(samples: int, seed: int = 1) -> tuple[Floats, Floats, Floats]:
    """Times, speeds (m/s) and engine speeds, ten a second: pulls in random gears, shifts between them."""
    rng = np.random.default_rng(seed)
    time_s: Floats = np.arange(samples, dtype=np.float64) * _STEP_S
    passage = (time_s // (_PULL_S + _SHIFT_S)).astype(np.int64)
    within_s = time_s - passage * (_PULL_S + _SHIFT_S)
    gear = np.clip(np.cumsum(rng.choice([-1, 1], passage[-1] + 1)) % 10, 0, 5)[passage]
    low, high = rng.uniform(2500, 4000, passage[-1] + 1)[passage], rng.uniform(5000, 8000, passage[-1] + 1)[passage]
    rpm = low + (high - low) * np.sin(np.pi / 2 * np.minimum(within_s / _PULL_S, 1.0))
    speed = np.array(LADDER_MPS)[gear] * rpm / 1000
    shifting = within_s > _PULL_S
    rpm = np.where(shifting, rpm * rng.uniform(0.6, 1.0, samples), rpm)
    speed += rng.normal(0, 0.06, samples)
    shown: Floats = np.maximum(rpm + rng.normal(0, 12, samples), 900.0)
    return time_s, np.maximum(speed, 0.0), shown


def text_log(path: Path, samples: int) -> None:
    time_s, speed, rpm = ride(samples)
    rows = (f"{t:.1f},{v:.2f},{n:.0f}\n" for t, v, n in zip(time_s, 3.6 * speed, rpm, strict=True))
    _write(path, "time_s,speed_kmh,rpm\n", rows)


def track(path: Path, samples: int) -> None:
    _, speed, rpm = ride(samples)
    points = [
        point(
            50 + k * 1e-6,
            10,
            f"2024-05-{1 + k // 864_000:02d}T{k // 36_000 % 24:02d}:{k // 600 % 60:02d}:{k // 10 % 60:02d}.{k % 10}Z",
            f"<extensions><a:speed>{speed[k]:.2f}</a:speed><b:rpm>{rpm[k]:.0f}</b:rpm></extensions>",
        )
        for k in range(samples)
    ]
    path.write_text(gpx(points), "utf-8")


def sentences(path: Path, lines: int) -> None:
    """RMC and GGA in turn, ten moments a second."""
    _, speed, _ = ride(lines // 2)
    _write(path, "", (rmc(k / 10, 1.94 * speed[k]) + gga(k / 10) for k in range(lines // 2)))


def _write(path: Path, header: str, rows: Iterable[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(header)
        file.writelines(rows)


MAKERS: dict[str, Callable[[Path, int], None]] = {"GPX": track, "NMEA": sentences, "text": text_log, "fit": text_log}
