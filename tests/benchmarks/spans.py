"""How long the spans of a one-hour ride at 10 Hz take to find: `python -m tests.benchmarks.spans`.

Twelve standing starts to 110 km/h among gentle riding, with gears and engine speed; the three usual spans.

Measured on two shared cores, Python 3.11, one thread of linear algebra as in `gearfit report`: 0.12 s (33 runs; 0.11 s
without the engine speed). With a second thread, which such small matrices do not repay, 0.1 to 0.5 s.
"""

from __future__ import annotations

import os
from time import perf_counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from gearfit.fitting.drive import Drive
from gearfit.spans.engine import EngineSpeeds
from gearfit.spans.find import runs_in
from gearfit.spans.noise import noise_in
from gearfit.spans.trace import make_trace

MINUTES = 60


def main() -> None:
    rng = np.random.default_rng(3)
    time_s = np.arange(600 * MINUTES) / 10
    at, speeds = [0.0], [0.0]
    for start in range(10, 60 * MINUTES - 300, 300):
        at += [start, start + 8, start + 40, start + 120, start + 250, start + 270]
        speeds += [0.0, 31.0, 10.0, 22.0, 12.0, 0.0]
    speed = np.interp(time_s, at, speeds)
    noisy = np.where(speed > 0, np.maximum(speed + 0.06 * rng.standard_normal(speed.size), 0), 0)
    gear = np.where(speed > 1, np.minimum((speed / 6).astype(np.int64) + 1, 6), 0)
    inside = gear > 0
    ratio = 500.0 / np.arange(1, 7)
    rpm = speed[inside] * ratio[gear[inside] - 1] * (1 + 0.002 * rng.standard_normal(int(inside.sum())))
    covariance = np.diag([1e-6] * 6 + [1e-4, 1e-7])
    drive = Drive(np.arange(1, 7), np.log(ratio), 0.0005, np.full(6, 200.0), covariance)
    engine = EngineSpeeds(time_s[inside], rpm, gear[inside], white=0.002, drive=drive)
    shortest = np.inf
    for _ in range(5):
        begin = perf_counter()
        trace = make_trace(time_s, noisy, gear=gear)
        found = runs_in([trace], [noise_in(trace, None)], engines=[engine])
        shortest = min(shortest, perf_counter() - begin)
    print(f"{shortest:.3f} s for {time_s.size} samples, {len(found.timed)} runs, {len(found.left_out)} left out")


if __name__ == "__main__":
    main()
