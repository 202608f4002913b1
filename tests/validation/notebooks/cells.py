"""How often the interval of the change holds the truth, by scatter and number of readings, without any fault."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from tests.validation.notebooks.choices import plain_choices
from tests.validation.notebooks.folders import make
from tests.validation.notebooks.judge import judge
from tests.validation.notebooks.printed import printed
from tests.validation.notebooks.rows import good_rows, left_out
from tests.validation.notebooks.table import Judged
from tests.validation.notebooks.verdicts import CHANGE, GEAR_CHANGE, GEAR_CLAIM, RIGHT, WRONG

SCATTERS = (0.005, 0.01, 0.02)
READINGS = (1, 2, 3, 6)
COLUMNS = (
    "teeth",
    "scatter",
    "readings a gear",
    "pairs",
    "no number",
    "change held [%]",
    "median half width [%]",
    "wrong as if sure",
    "gears held [%]",
    "good rows left out [%]",
    "a gear falsely out of line [%]",
)


def cells(pairs: int, first_seed: int) -> Iterator[str]:
    """Lines of the table, a cell at a time."""
    yield f"| {' | '.join(COLUMNS)} |"
    yield "|---" * len(COLUMNS) + "|"
    for teeth in (True, False):
        for scatter in SCATTERS:
            for readings in READINGS:
                draw = partial(plain_choices, scatter=scatter, readings=readings, teeth=teeth)
                cases = [make(first_seed + k, draw) for k in range(pairs)]
                judged = [Judged(case, out, judge(case, out)) for case in cases for out in [printed(case)]]
                name = f"| {'stated' if teeth else 'unknown'} | {scatter:.1%} | {readings} |"
                yield f"{name} {_cell(judged)} |"


def _cell(judged: list[Judged]) -> str:
    change = [v for one in judged for v in one.verdicts if v.subject == CHANGE]
    told = [v for v in change if v.half is not None]
    gears = [v.verdict == RIGHT for one in judged for v in one.verdicts if v.subject == GEAR_CHANGE]
    good = sum(len(good_rows(one.case.truth)) for one in judged)
    gone = sum(len(left_out(one.printed, one.case.truth)) for one in judged)
    claims = [any(v.subject == GEAR_CLAIM and v.verdict == WRONG for v in one.verdicts) for one in judged]
    columns = [
        len(judged),
        len(change) - len(told),
        _percent([v.verdict == RIGHT for v in told]),
        f"{np.median([v.half for v in told if v.half is not None]):.2f}" if told else "–",
        sum(v.verdict == WRONG for v in told),
        _percent(gears),
        f"{100 * gone / max(good, 1):.1f}",
        _percent(claims),
    ]
    return " | ".join(map(str, columns))


def _percent(held: list[bool]) -> str:
    return f"{100 * np.mean(held):.1f}" if held else "–"
