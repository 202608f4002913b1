"""Mutated files through every importer: `python -m tests.fuzz [FILES] [SEED] [IMPORTER ...]`.

Each importer gets FILES files (10,000 unless said otherwise): good files of its format in which bytes and lines are
changed, cut, doubled, moved and mixed with those of other formats, one in fifty blown up to as much as 5 MB. Every
outcome has to be a table that keeps the rules of `gearfit.records.schema` or one of gearfit's errors with a message in
one line. Time and memory of each file are limited: 5 s of processor and 500 MB. Anything else is printed, with the
numbers that make the file again, and the exit code is 1.
"""

from __future__ import annotations

import gc
import resource
import sys
import tempfile
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import GearfitError
from gearfit.importers import ReadOptions, describe, read_log
from gearfit.machine.bike import ColumnNames, Engine
from gearfit.records.schema import check_samples
from tests.importers.gpx_text import gpx, northward, point, second
from tests.importers.nmea_text import gga, rmc, sentence
from tests.simulator.sound import wav_bytes

FILES = 10_000
SECONDS, MEGABYTES = 5.0, 500.0
LARGE_EVERY, LARGE_BYTES = 50, 5_000_000
OPTIONS = ReadOptions(columns=ColumnNames(speed="Tempo", speed_unit="km/h", obd="Antwort"), engine=Engine(4, 4))
#: Pieces that tend to find the weak places of readers.
NASTY = (
    rb"\0 \xff \xef\xbb\xbf \n\n \r \" ' ,,,, ; \t - =1+1 1e999 nan inf -1 99999999999999999999 0x1F 1_000 < &lt; <!-- "
    rb"]]> <trkpt> </trkseg> $GPRMC, *00 $ 235960 311299 24:00:00 12:60:61\x20PM 0000-00-00 9999-12-31T23:59:59Z "
    rb"2024-02-30 1677-01-01T00:00:00Z \xc2\xa0 \xd9\xa3 \xc2\xbd 41\x200C time speed_kmh rpm # data fmt\x20"
)
NASTY_PIECES = tuple(piece.decode("unicode_escape").encode("latin-1") for piece in NASTY.split(b" "))
Row = Callable[[int], str]


def text_log(rng: np.random.Generator) -> bytes:
    rows = int(rng.integers(3, 120))
    speed = 30 + 20 * np.sin(np.arange(rows) / 9)
    forms: tuple[tuple[str, Row], ...] = (
        ("time_s,speed_kmh,rpm", lambda k: f"{k / 10},{speed[k]:.1f},{3000 + 20 * k}"),
        ("Date;Time;Tempo;U/min rpm", lambda k: f"01.05.2024;12:{k // 60:02d}:{k % 60:02d};{speed[k]:.0f};{3000 + k}"),
        ("Time,Speed (mph),Engine RPM", lambda k: f"{second(k)},{speed[k]:.2f},{3000 + k}"),
        ("time,OBD raw", lambda k: f"{k},41 0C {k % 256:02X} {k * 7 % 256:02X}"),
        (
            "time_ms\tsignal\tvalue\tunit",
            lambda k: f"{k}\t{('rpm', 'speed')[k % 2]}\t{40 + k}\t{('rpm', 'km/h')[k % 2]}",
        ),
        ("timestamp,speed_mps,rpm", lambda k: f"{1_700_000_000_000 + 100 * k},{speed[k] / 4:.3f},{4000 + k}"),
    )
    header, row = forms[int(rng.integers(len(forms)))]
    return "\n".join((header, *(row(k) for k in range(rows)))).encode()


def own_times(rng: np.random.Generator) -> bytes:
    """Channels with time columns of their own, of different length."""
    rows = int(rng.integers(3, 120))
    forms: tuple[tuple[str, Row, Row], ...] = (
        ("time_speed_s,speed_kmh,time_rpm_s,rpm", lambda k: f"{k / 5},{40 + k % 9}", lambda k: f"{k / 10},{3000 + k}"),
        (
            "Time;Tempo;Time.1;rpm",
            lambda k: f"23:59:{k % 60:02d};{40 + k % 7}",
            lambda k: f"23:59:{k % 60:02d};{3000 + k}",
        ),
        ("Time,Speed (mph),Time,rpm", lambda k: f"{second(k)},{30 + k % 9}", lambda k: f"{second(k)},{3000 + k}"),
        (
            "time_ms,OBD raw,time_ms,gps speed km/h",
            lambda k: f"{k},41 0C 1{k % 10} F8",
            lambda k: f"{9 * k},{50 + k % 5}",
        ),
    )
    header, left, right = forms[int(rng.integers(len(forms)))]
    delimiter = ";" if ";" in header else ","
    longer = int(rng.integers(rows, 2 * rows))
    return "\n".join(
        (header, *(delimiter.join((left(k) if k < rows else delimiter, right(k))) for k in range(longer)))
    ).encode()


def sheet(rng: np.random.Generator) -> bytes:
    rows = int(rng.integers(1, 20))
    forms: tuple[tuple[str, Row], ...] = (
        ("gear,rpm,speed_kmh", lambda k: f"{k % 6 + 1},{3000 + 100 * k},{40 + k}"),
        ("gear;rpm", lambda k: f"{k % 6 + 1};{3000 + 500 * k}"),
        ("from_kmh,to_kmh,time_s", lambda k: f"0,{80 + k},{5 + k / 10}"),
        ("rpm,indicated_mph", lambda k: f"{3000 + 100 * k},{30 + k}"),
    )
    header, row = forms[int(rng.integers(len(forms)))]
    return "\n".join((header, *(row(k) for k in range(rows)))).encode()


def track(rng: np.random.Generator) -> bytes:
    inside = "<extensions><a:speed>12.5</a:speed><b:rpm>4200</b:rpm></extensions>"
    points = [point(50 + k * 1e-4, 10, second(k), inside) for k in range(int(rng.integers(2, 40)))]
    return gpx(points if rng.random() < 0.5 else northward(len(points)), before="<!-- invented -->").encode()


def sentences(rng: np.random.Generator) -> bytes:
    n = int(rng.integers(2, 60))
    vtg = sentence("GNVTG,65.13,T,52.07,M,5.028,N,9.3,K,D")
    return "".join(rmc(86390 + k, 10 + k % 5) + (gga(86390 + k) + vtg) * (k % 2) for k in range(n)).encode()


def sound(rng: np.random.Generator) -> bytes:
    rate = int(rng.choice([8000, 11025]))
    return wav_bytes(_tones(rng, rate), rate)


def _tones(rng: np.random.Generator, rate: int) -> NDArray[np.float64]:
    turned = 2 * np.pi * float(rng.uniform(80, 300)) * np.arange(0, 1.5, 1 / rate)
    return np.asarray(0.2 * sum(np.sin(k * turned) / k for k in range(1, 7)))


def flac(rng: np.random.Generator) -> bytes:
    import io

    import soundfile

    file = io.BytesIO()
    soundfile.write(file, _tones(rng, 8000), 8000, format="FLAC")
    return file.getvalue()


SOURCES: dict[str, Callable[[np.random.Generator], bytes]] = {
    "text logs": text_log,
    "sheets": sheet,
    "GPX": track,
    "NMEA": sentences,
    "WAV": sound,
    "FLAC": flac,
    "own time columns": own_times,
}


def mutated(rng: np.random.Generator, source: str, large: bool) -> bytes:
    """Return a file of a format with a few changes."""
    data = bytearray(SOURCES[source](rng))
    if large:
        part = bytes(data[len(data) // 3 :]) or b"x"
        data += part * (LARGE_BYTES // len(part) // (1 if rng.random() < 0.5 else 3))
    for _ in range(int(rng.integers(1, 9))):
        mutate(rng, data)
    return bytes(data[:LARGE_BYTES])


def mutate(rng: np.random.Generator, data: bytearray) -> None:
    """Change a file in one place, or its lines."""
    n = len(data)
    at = int(rng.integers(n + 1))
    length = int(min(rng.geometric(0.05), 400))
    kind = int(rng.integers(9))
    if kind == 0 and n:
        data[at - 1] = int(rng.integers(256))
    elif kind == 1 and n:
        data[at - 1] ^= 1 << int(rng.integers(8))
    elif kind == 2:
        del data[at : at + length]
    elif kind == 3:
        data[at:at] = NASTY_PIECES[int(rng.integers(len(NASTY_PIECES)))]
    elif kind == 4:
        data[at:at] = data[at : at + length] * int(rng.integers(1, 20))
    elif kind == 5:
        del data[at:]
    elif kind == 6:
        data[at : at + length] = bytes(rng.integers(0, 256, length, dtype=np.uint8))
    elif kind == 7:
        other = tuple(SOURCES.values())[int(rng.integers(len(SOURCES) - 3))](rng)
        data[at:at] = other[: int(rng.integers(len(other) + 1))]
    else:
        lines = data.split(b"\n")
        rng.shuffle(lines[1:] if len(lines) > 2 else lines)
        data[:] = b"\n".join(lines[: int(rng.integers(1, len(lines) + 1))] + lines[-2:])


@dataclass
class Tally:
    """Outcomes of one source."""

    outcomes: Counter[str] = field(default_factory=Counter)
    slowest_s: float = 0.0
    faults: list[str] = field(default_factory=list)


def try_file(path: Path, tally: Tally, number: str) -> None:
    """Read one file and note what came of it."""
    start = process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            recording = read_log(path, options=OPTIONS)
            check_samples(recording.samples)
            describe(recording)
        tally.outcomes["table"] += 1
    except GearfitError as error:
        tally.outcomes["error of ours"] += 1
        if "\n" in str(error) or len(str(error)) > 1000:
            tally.faults.append(f"{number}: message of more than one line: {str(error)[:200]!r}")
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        tally.faults.append(f"{number}: {type(error).__name__}: {str(error)[:120]} ({place.filename}:{place.lineno})")
    taken = process_time() - start
    tally.slowest_s = max(tally.slowest_s, taken)
    if taken > SECONDS:
        tally.faults.append(f"{number}: {taken:.1f} s")


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def run(source: str, files: int, seed: int) -> Tally:
    """Try mutated files of one format."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        for k in range(files):
            rng = np.random.default_rng([seed, k, *source.encode()])
            path.write_bytes(mutated(rng, source, large=k % LARGE_EVERY == LARGE_EVERY - 1))
            before = peak_mb()
            try_file(path, tally, f"{source} {seed} {k}")
            if peak_mb() - before > MEGABYTES:
                tally.faults.append(f"{source} {seed} {k}: {peak_mb() - before:.0f} MB more than before")
    gc.collect()
    return tally


def main() -> int:
    files = int(sys.argv[1]) if len(sys.argv) > 1 else FILES
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    failed = False
    print(
        "| importer | files | read | refused in one line | anything else | slowest, s of processor |\n"
        "|---|---|---|---|---|---|"
    )
    at_start = peak_mb()
    for source in sys.argv[3:] or SOURCES:
        tally = run(source, files, seed)
        failed |= bool(tally.faults)
        table, ours = tally.outcomes["table"], tally.outcomes["error of ours"]
        print(f"| {source} | {files} | {table} | {ours} | {len(tally.faults)} | {tally.slowest_s:.1f} |", flush=True)
        for fault in tally.faults[:20]:
            print(f"  {fault}", file=sys.stderr)
    print(f"\nPeak memory of the whole run: {peak_mb() - at_start:.0f} MB above its start.")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
