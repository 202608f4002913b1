"""Odd ride folders through the whole way: `python -m tests.odd_folders [FOLDERS] [--first-seed N] ...`.

Each folder has to end in a report or in one of gearfit's errors, in one line; each pair of spellings of a ride in the
same report. Anything else is printed with its seed, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic

from tests.odd_folders.alike import differences
from tests.odd_folders.folders import odd_folder, write
from tests.odd_folders.outcome import outcome
from tests.odd_folders.spellings import pair

#: Seeds that a process gets at a time.
CHUNK = 20


def try_folder(seed: int, pictures: bool) -> tuple[int, str, str]:
    """Return the seed, the kind of outcome, and what is wrong."""
    with TemporaryDirectory() as place:
        found = outcome(write(odd_folder(seed), Path(place)), pictures, ("kmh", "mph")[seed % 2])
    return seed, "fault" if found.fault else "refused" if found.refusal else "report", found.fault


def try_pair(seed: int, pictures: bool) -> tuple[int, str, str]:
    """Return the seed, the spelling, and where the two reports differ."""
    two = pair(seed)
    wrong = differences(two, pictures)
    return seed, "fault" if wrong else two.spelling, f"{two.spelling}: {'; '.join(wrong[:4])}" if wrong else ""


def main() -> int:
    """Run the folders, or write one to look at."""
    parser = argparse.ArgumentParser(prog="python -m tests.odd_folders", description=__doc__)
    parser.add_argument("folders", type=int, nargs="?", default=2000, help="how many (default: 2000)")
    parser.add_argument("--first-seed", type=int, default=0, help="seed of the first one (default: 0)")
    parser.add_argument("--pairs", action="store_true", help="one ride in two spellings instead of odd folders")
    parser.add_argument("--no-pictures", action="store_true", help="leave out what is drawn: five times as fast")
    parser.add_argument("--minutes", type=float, default=60, help="stop after so many minutes (default: 60)")
    parser.add_argument("--jobs", type=int, default=1, help="processes (default: 1)")
    parser.add_argument("--keep", type=Path, metavar="DIR", help="write the folder of --first-seed there instead")
    arguments = parser.parse_args()
    if arguments.keep:
        _keep(arguments.keep, arguments.first_seed, arguments.pairs)
        return 0
    work = partial(try_pair if arguments.pairs else try_folder, pictures=not arguments.no_pictures)
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.folders)
    counts: Counter[str] = Counter()
    until = monotonic() + 60 * arguments.minutes
    with ProcessPoolExecutor(arguments.jobs) as pool:
        for first in range(0, len(seeds), CHUNK * arguments.jobs):
            if monotonic() > until:
                break
            for seed, kind, wrong in pool.map(work, seeds[first : first + CHUNK * arguments.jobs]):
                counts[kind] += 1
                if wrong:
                    print(f"{seed}: {wrong}", flush=True)
    print(f"{counts.total()} folders: {', '.join(f'{count} {kind}' for kind, count in sorted(counts.items()))}")
    return int(counts["fault"] > 0)


def _keep(place: Path, seed: int, pairs: bool) -> None:
    for name, files in _folders(seed, pairs):
        write(files, place / name)
    print(f"written into {place}")


def _folders(seed: int, pairs: bool) -> Iterator[tuple[str, dict[str, bytes]]]:
    if pairs:
        two = pair(seed)
        yield from (("one", dict(two.one)), ("other", dict(two.other)))
    else:
        yield "", dict(odd_folder(seed))


if __name__ == "__main__":
    sys.exit(main())
