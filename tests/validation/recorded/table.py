"""The table of the study, and the list of what is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from tests.validation.recorded.judge import Told, Verdict

HEAD = (
    "rides", "change told", "change held, %", "rms error, points", "to stated error", "gears held, %",
    "circumference held, %", "gears right", "uncertain", "wrong unwarned", "gear or clutch blamed", "teeth blamed",
    "times held, %", "roll-ons held, %", "changes of times held, %",
    "wrong as if sure: change", "gear speeds", "circumference", "times",
    "refused", "crashed",
)  # fmt: skip


def table(rows: Iterable[tuple[str, Sequence[Verdict]]]) -> Iterable[str]:
    """Write the table, one line after the other."""
    yield "| row | " + " | ".join(HEAD) + " |"
    yield "|" + "---|" * (len(HEAD) + 1)
    for name, found in rows:
        yield line(name, found)


def line(name: str, found: Sequence[Verdict]) -> str:
    """One line of the table."""
    changes = [v.change for v in found if v.change is not None]
    gears = [one for v in found for one in v.gears]
    rounds = [one for v in found for one in v.circumferences]
    times = [one for v in found for one in v.times]
    roll_ons = [one for v in found for one in v.roll_ons]
    moved = [one for v in found for one in v.time_changes]
    ladders = [ladder for v in found for ladder in v.ladders]
    off = [one.value - one.truth for one in changes]
    rms = float(np.sqrt(np.mean(np.square(off)))) if off else float("nan")
    stated = float(np.median([one.se for one in changes])) if changes else float("nan")
    cells = [
        f"{len(found)}", f"{len(changes)}", _held(changes),
        f"{rms:.3f}" if off else "", f"{rms / stated:.2f}" if off else "",
        _held(gears), _held(rounds), *(f"{ladders.count(kind)}" for kind in ("right", "uncertain", "wrong")),
        f"{sum(bool(v.blamed_gear) for v in found)}", f"{sum(bool(v.blamed_teeth) for v in found)}",
        _held(times), _held(roll_ons), _held(moved),
        *(_wrong(told) for told in (changes, gears, rounds, [*times, *roll_ons, *moved])),
        f"{sum(bool(v.refusal) for v in found)}", f"{sum(bool(v.crash) for v in found)}",
    ]  # fmt: skip
    return "| " + " | ".join([name, *cells]) + " |"


def wrong_ones(found: Sequence[Verdict]) -> Iterable[str]:
    """Say of each folder what is wrong in it."""
    for v in found:
        for text in [*v.wrong, *([v.crash] if v.crash else []), *([f"refused: {v.refusal}"] if v.refusal else [])]:
            yield f"- {v.row}, seed {v.seed} ({v.drawn}): {text}"


def _held(told: Sequence[Told]) -> str:
    return f"{100 * np.mean([one.held for one in told]):.0f} of {len(told)}" if told else ""


def _wrong(told: Sequence[Told]) -> str:
    return f"{sum(one.wrong for one in told)}"
