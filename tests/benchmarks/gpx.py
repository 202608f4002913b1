"""How long and how much memory 300,000 GPX points take: `python -m tests.benchmarks.gpx`.

Each with speed and rpm in extensions.

Measured on two cores of a shared machine, Python 3.11: 3.4 s for a file of 51 MB, 155 MB of memory above the made file.
"""

from __future__ import annotations

import resource
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from gearfit.importers import read_log
from tests.importers.gpx_text import gpx, point

POINTS = 300_000


def main() -> None:
    inside = "<extensions><a:speed>12.5</a:speed><b:rpm>4200</b:rpm></extensions>"
    points = [
        point(
            50 + k * 1e-6, 10, f"2024-05-01T{k // 36000:02d}:{k // 600 % 60:02d}:{k // 10 % 60:02d}.{k % 10}Z", inside
        )
        for k in range(POINTS)
    ]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        path.write_text(gpx(points), "utf-8")
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        start = perf_counter()
        read_log(path)
        print(f"{perf_counter() - start:.1f} s for {POINTS} points, {path.stat().st_size / 1e6:.0f} MB")
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak of the process {after:.0f} MB, of which the made file {before:.0f} MB")


if __name__ == "__main__":
    main()
