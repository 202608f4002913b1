"""Memory and time of each reader over files that nobody would write: `python -m tests.benchmarks.odd_files [NAME ...]`.

Each file is read in a process of its own, whose address space is limited, so that a reader that goes astray does no
harm. Printed are seconds of processor, the peak of memory above that of a program with the readers loaded, and how
many bytes of it come on each byte of the file. Needs Linux. Results stand in docs/benchmarks.md.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

MB: Final = 1_000_000
#: Address space of a reader, MB.
LIMIT_MB: Final = 6_000
HEADER: Final = "time_s,speed_kmh,rpm\n"
SENTENCE: Final = "$GPRMC,120000.00,A,5000.00000,N,01000.00000,E,30.0,0.0,010124,,*{:02X}\r\n"
PROGRAM: Final = """
import json, resource, sys, time
from gearfit.errors import GearfitError
from gearfit.importers import read_log
from gearfit.importers.common.options import ReadOptions
from gearfit.machine.bike import Bike, Engine
import scipy.io.wavfile, pandas, gearfit.importers.text.log
resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[2]), int(sys.argv[2])))
def peak(): return int(open("/proc/self/status").read().split("VmHWM:")[1].split()[0]) / 1000
before, began = peak(), time.process_time()
try:
    options = ReadOptions.of(Bike(engine=Engine(cylinders=1, strokes=4)))
    said = f"{len(read_log(sys.argv[1], options=options).samples)} rows"
except GearfitError as error:
    said = str(error)[:100]
except MemoryError:
    said = "no memory"
print(json.dumps([time.process_time() - began, peak() - before, said]))
"""


def rows(size: int) -> Iterator[str]:
    """Yield blocks of a plain log of so many bytes."""
    made, n = 0, 0
    while made < size:
        block = "".join(f"{k / 10:.1f},{60 + k % 40}.{k % 10},{4000 + k % 900}\n" for k in range(n, n + 50_000))
        n += 50_000
        made += len(block)
        yield block


def write(name: str, path: Path) -> None:
    """Write one of the files."""
    with path.open("w", encoding="utf-8", newline="") as file:
        if name == "line feeds below two rows":
            file.write(f"{HEADER}0,10,1000\n1,11,1100\n" + "\n" * (150 * MB))
        elif name == "line feeds between two rows":
            file.write(f"{HEADER}0,10,1000\n" + "\n" * (150 * MB) + "1,11,1100\n")
        elif name == "line feeds above the header":
            file.write("\n" * (150 * MB) + f"{HEADER}0,10,1000\n1,11,1100\n")
        elif name == "delimiters":
            file.write(HEADER + ",,\n" * (20 * MB))
        elif name == "one line":
            file.write(f"{HEADER}0,10,1000\n" + "1" * (150 * MB))
        elif name == "quotation marks":
            file.write(f"{HEADER}0,10,1000\n" + '"' * (50 * MB) + "\n")
        elif name in ("plain log", "log with one text cell"):
            file.write(HEADER)
            for number, block in enumerate(rows(50 * MB)):
                file.write(block.replace(",4002\n", ",about 4002\n", 1) if number == 3 and "text" in name else block)
        elif name == "blanks in a track":
            file.write('<?xml version="1.0"?>\n<gpx><trk><trkseg>' + " " * (150 * MB) + "</trkseg></trk></gpx>")
        elif name == "elements in a track":
            file.write('<?xml version="1.0"?>\n<gpx><trk><trkseg>' + "<x/>" * (25 * MB) + "</trkseg></trk></gpx>")
        elif name == "nested elements":
            file.write("<gpx>" + "<x>" * (20 * MB))
        elif name == "sentences that are cut":
            file.write(SENTENCE.format(0) * 3 + "$GPRMC,\r\n" * (10 * MB))
        elif name == "bytes of a sound":
            pass
    if name == "bytes of a sound":
        with path.open("wb") as sound:
            size = 150 * MB
            sound.write(b"RIFF" + (size + 36).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little"))
            sound.write(bytes.fromhex("0100010044ac00008858010002001000") + b"data" + size.to_bytes(4, "little"))
            sound.write(bytes(size))


NAMES: Final = (
    *("line feeds below two rows", "line feeds between two rows", "line feeds above the header", "delimiters"),
    *("one line", "quotation marks", "plain log", "log with one text cell", "blanks in a track"),
    *("elements in a track", "nested elements", "sentences that are cut", "bytes of a sound"),
)


def main(names: list[str]) -> None:
    """Print a table in Markdown."""
    print("| file | MB | s | peak MB | peak / size | what is said |\n|---|---|---|---|---|---|")
    for name in names or NAMES:
        with TemporaryDirectory() as folder:
            path = Path(folder) / "ride"
            write(name, path)
            size_mb = path.stat().st_size / MB
            done = subprocess.run(
                [sys.executable, "-c", PROGRAM, str(path), str(LIMIT_MB * MB)], capture_output=True, text=True
            )
        if done.returncode:
            last = (done.stderr.strip().splitlines() or ["ended from outside"])[-1]
            print(f"| {name} | {size_mb:.0f} | | | | fails: {last[:120]} |", flush=True)
            continue
        seconds, peak_mb, said = json.loads(done.stdout)
        print(
            f"| {name} | {size_mb:.0f} | {seconds:.1f} | {peak_mb:.0f} | {peak_mb / size_mb:.1f} | {said} |", flush=True
        )


if __name__ == "__main__":
    main(sys.argv[1:])
