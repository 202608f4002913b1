"""Command line of the study."""

from __future__ import annotations

import argparse
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.validation.recorded.answer import answer
from tests.validation.recorded.judge import Verdict, judge
from tests.validation.recorded.pairs import make
from tests.validation.recorded.scenarios import ROWS, Row
from tests.validation.recorded.table import line, table, wrong_ones


def main() -> None:
    """Run the study row by row."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.recorded", description=__doc__)
    parser.add_argument("--rides", type=int, default=20, help="pairs of rides in each row (default: 20)")
    parser.add_argument("--first-seed", type=int, default=0, help="seed of the first pair (default: 0)")
    parser.add_argument(
        "--row", metavar="NAME", action="append", help="only the rows whose name begins so; several times"
    )
    parser.add_argument("--keep", type=Path, metavar="DIR", help="keep the folders in which something is wrong there")
    parser.add_argument("--jobs", type=int, default=1, help="processes (default: 1)")
    arguments = parser.parse_args()
    rows = [row for row in ROWS if row.name.startswith(tuple(arguments.row or [""]))]
    if not rows:
        parser.error(f"no row begins with {arguments.row!r}; there are: {'; '.join(row.name for row in ROWS)}")
    for head in list(table([])):
        print(head, flush=True)
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.rides)
    everything: list[Verdict] = []
    with ProcessPoolExecutor(arguments.jobs) as pool:
        for row in rows:
            found = list(pool.map(study, [row] * len(seeds), seeds, [arguments.keep] * len(seeds)))
            print(line(row.name, found), flush=True)
            everything += found
    print("\n### Wrong\n")
    for text in wrong_ones(everything):
        print(text)


def study(row: Row, seed: int, keep: Path | None = None) -> Verdict:
    """Make, answer and judge one pair; a folder in which something is wrong is kept in `keep`."""
    made = make(row, seed)
    with tempfile.TemporaryDirectory() as where:
        found = judge(made, answer(made.write(Path(where))))
    if keep is not None and (found.wrong or found.crash or found.refusal):
        kept = keep / f"{row.name.replace(' ', '-').replace('/', '-').replace(',', '')}-{seed}"
        made.write(kept)
        (kept / "VERDICT.md").write_text("\n".join(wrong_ones([found])) + "\n")
    return found


if __name__ == "__main__":
    main()
