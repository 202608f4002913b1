"""Command line of the study."""

from __future__ import annotations

import argparse
import resource
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Final

from tests.validation.notebooks.cells import cells
from tests.validation.notebooks.folders import make
from tests.validation.notebooks.judge import judge
from tests.validation.notebooks.printed import printed
from tests.validation.notebooks.table import Judged, bad_ones, refusals, tables

#: A page of notes needs no more; beyond this a folder counts as a crash instead of filling the machine [bytes].
MEMORY: Final = 4 * 1024**3


def main() -> None:
    """Run the study, or write one folder to look at."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.notebooks", description=__doc__)
    parser.add_argument("--folders", type=int, default=100, help="how many folders (default: 100)")
    parser.add_argument("--first-seed", type=int, default=0, help="seed of the first one (default: 0)")
    parser.add_argument("--jobs", type=int, default=1, help="processes (default: 1)")
    parser.add_argument("--whole", action="store_true", help="write every report with its pictures, to find crashes")
    parser.add_argument("--cells", type=int, metavar="PAIRS", help="coverage by scatter and readings instead")
    parser.add_argument("--keep", type=Path, metavar="DIR", help="write the folder of --seed there instead")
    parser.add_argument("--seed", type=int, default=0, help="seed for --keep")
    arguments = parser.parse_args()
    if arguments.keep:
        _keep(arguments.keep, arguments.seed)
    elif arguments.cells:
        _print(cells(arguments.cells, arguments.first_seed))
    else:
        seeds = range(arguments.first_seed, arguments.first_seed + arguments.folders)
        with ProcessPoolExecutor(arguments.jobs, initializer=_limit_memory) as pool:
            judged = list(pool.map(partial(study, whole=arguments.whole), seeds, chunksize=8))
        _print(tables(judged))
        for title, lines in (("Wrong", bad_ones(judged)), ("Refused", refusals(judged))):
            print(f"\n### {title}\n")
            _print(lines)


def study(seed: int, whole: bool = False) -> Judged:
    """Make, report and judge one folder."""
    case = make(seed)
    out = printed(case, whole)
    return Judged(case, out, judge(case, out))


def _limit_memory() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def _keep(folder: Path, seed: int) -> None:
    one = study(seed)
    one.case.write(folder)
    print(f"{folder}: {one.case.choices}")
    print(f"true change {one.case.truth.change_percent:.2f} %, circumference {one.case.truth.apparent_m}")
    for place, row in one.case.truth.slips.items():
        print(f"misread: {place[0]}, line {place[1]}: {row}")
    print(one.printed.headline or one.printed.refusal or one.printed.crash)
    for v in one.verdicts:
        print(f"{v.subject}: {v.verdict}: {v.printed} | true: {v.truth}")


def _print(lines: Iterable[str]) -> None:
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main()
