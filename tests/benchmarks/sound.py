"""How well, how fast and in how much memory engine speed is read from sound: `python -m tests.benchmarks.sound`.

Synthesised engines (tests.simulator.sound) on an invented ride of pulls, shifts, steady riding, overrun and idling,
once clean and once with wind as loud as the engine on average, automatic gain and a lossy format's band. With the word
`long` as argument, one recording of ten minutes (48 kHz, mono) for time and memory instead.

The figures stand in docs/sound.md.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, read_log
from gearfit.machine.bike import Engine
from tests.simulator.sound import Microphone, engine_sound, recorded, wav_bytes

Floats = NDArray[np.float64]
ENGINES = {
    "four, even": Engine(4, 4),
    "three, even": Engine(3, 4),
    "two, even": Engine(2, 4),
    "two, 270-450": Engine(2, 4, firing=(270.0, 450.0)),
    "two, 315-405": Engine(2, 4, firing=(315.0, 405.0)),
    "one": Engine(1, 4),
    "one, two strokes": Engine(1, 2),
}
CLEAN = Microphone()
HARD = Microphone(wind_db=0.0, automatic_gain=True, band_hz=(60.0, 15_000.0))


def ride(seconds: float, seed: int) -> tuple[Floats, Floats, Floats]:
    """Time, engine speed and load of an invented ride."""
    rng = np.random.default_rng(seed)
    knots = [(0.0, 1300.0, 0.1), (3.0, 1350.0, 0.1)]

    def go(duration_s: float, rpm: float, load: float) -> None:
        knots.append((knots[-1][0] + duration_s, rpm, load))

    while knots[-1][0] < seconds:
        go(1.0, 2500.0, 0.5)
        for _ in range(4):
            top = rng.uniform(6000, 9500)
            go(rng.uniform(1.5, 4.5), top, 1.0)
            go(0.25, top * rng.uniform(0.72, 0.85), 0.0)
        go(0.3, knots[-1][1] * 1.02, 0.4)
        for _ in range(4):
            go(rng.uniform(2, 5), knots[-1][1] * rng.uniform(0.95, 1.05), rng.uniform(0.2, 0.6))
        go(rng.uniform(3, 6), 3000.0, 0.0)
        go(0.3, 4200.0, 0.3)
        go(3.0, 2200.0, 0.0)
        go(0.5, 1350.0, 0.1)
        go(3.0, 1320.0, 0.1)
    at, rpm, load = np.array(knots).T
    time_s = np.arange(0, seconds, 0.005)
    waver = 1 + 0.003 * np.sin(2 * np.pi * time_s / 1.7)
    return time_s, np.interp(time_s, at, rpm) * waver, np.interp(time_s, at, load)


def accuracy(label: str, engine: Engine, microphone: Microphone, seconds: float = 120.0, seed: int = 11) -> None:
    rng = np.random.default_rng(seed)
    time_s, rpm, load = ride(seconds, seed)
    sound = recorded(engine_sound(time_s, rpm, load, engine, rng), microphone, rng)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sound"
        path.write_bytes(wav_bytes(sound))
        try:
            log = read_log(path, options=ReadOptions(engine=engine))
        except LogError as refused:
            print(f"{label}: {refused}")
            return
    samples = log.samples
    at_s = samples["time_s"].to_numpy() + (log.start_s or 0.0)
    true = np.interp(at_s, time_s, rpm)
    found = samples["engine_rpm"].to_numpy()
    error = np.sort(np.abs(found / true - 1))
    within = error[: int(0.95 * error.size)]
    octave = np.mean(np.abs(np.log2(found / true)) > 0.4)
    pull = np.abs(found - true) / samples["rpm_sd_rpm"].to_numpy()
    print(
        f"{label}: {100 * error.size * 0.05 / seconds:.0f} % of the time kept; of that, rms of the best 95 % "
        f"{100 * np.sqrt(np.mean(within**2)):.2f} %, 95th percentile {100 * within[-1]:.2f} %, octave errors "
        f"{100 * octave:.2f} %, within two standard errors {100 * np.mean(pull < 2):.0f} %"
    )


def long() -> None:
    rng = np.random.default_rng(5)
    engine = Engine(2, 4, firing=(270.0, 450.0))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sound"
        time_s, rpm, load = ride(600.0, 5)
        parts = [
            recorded(
                engine_sound(time_s[k : k + 12_001], rpm[k : k + 12_001], load[k : k + 12_001], engine, rng), HARD, rng
            )
            for k in range(0, time_s.size - 1, 12_000)
        ]
        path.write_bytes(wav_bytes(np.concatenate(parts)))
        print(f"{path.stat().st_size / 1e6:.1f} MB written to {path}")
        _measure(path, engine)


def _measure(path: Path, engine: Engine) -> None:
    """Read the file in a process of its own (Linux: the highest memory is in /proc)."""
    code = (
        "import sys, time; from pathlib import Path; from gearfit.machine.bike import Engine\n"
        "from gearfit.importers import ReadOptions, read_log\n"
        "start = time.perf_counter()\n"
        f"log = read_log(Path(sys.argv[1]), options=ReadOptions(engine={engine!r}))\n"
        "wall, used = time.perf_counter() - start, time.process_time()\n"
        "print(f'{wall:.1f} s ({used:.1f} s of processor), {len(log.samples)} rows')\n"
        "print(next(line for line in open('/proc/self/status') if line.startswith('VmHWM')).strip())"
    )
    print(subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True).stdout)


def main() -> None:
    if sys.argv[1:2] == ["long"]:
        long()
        return
    for name, engine in ENGINES.items():
        accuracy(f"{name}, clean", engine, CLEAN)
        accuracy(f"{name}, wind and camera", engine, HARD)


if __name__ == "__main__":
    main()
