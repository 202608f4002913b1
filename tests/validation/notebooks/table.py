"""Verdicts counted, as Markdown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from tests.validation.notebooks.folders import Case
from tests.validation.notebooks.printed import Printed
from tests.validation.notebooks.rows import good_rows, left_out
from tests.validation.notebooks.verdicts import BAD, CRASH, GEAR_CLAIM, REFUSED, SUBJECTS, VERDICTS, WRONG, Verdict


@dataclass(frozen=True)
class Judged:
    """One folder with its verdicts."""

    case: Case
    printed: Printed
    verdicts: list[Verdict]


def tables(judged: list[Judged]) -> Iterator[str]:
    """A table a subject, a line for each class of folder, and the counts over all folders."""
    for subject in SUBJECTS:
        yield f"\n### {subject}\n"
        yield f"| folders | n | {' | '.join(VERDICTS)} |"
        yield "|---" * (len(VERDICTS) + 2) + "|"
        for name, some in _classes(judged).items():
            counts = Counter(v.verdict for one in some for v in one.verdicts if v.subject == subject)
            if counts:
                cells = [str(counts[verdict] or "") for verdict in VERDICTS]
                yield f"| {name} | {sum(counts.values())} | {' | '.join(cells)} |"
    yield "\n### Over all folders\n"
    yield from _totals(judged)


def bad_ones(judged: list[Judged]) -> Iterator[str]:
    """A line for each wrong number: seed, what, printed, truth, and what is special about the folder."""
    for verdict in BAD:
        for one in judged:
            for subject in SUBJECTS:
                bad = [v for v in one.verdicts if (v.verdict, v.subject) == (verdict, subject)]
                if bad:
                    more = f" (and {len(bad) - 1} more)" if len(bad) > 1 else ""
                    what = f"{subject}: {bad[0].printed}{more} | true: {bad[0].truth}"
                    yield f"{one.case.seed}: {verdict}: {what} | {_special(one.case)}"


def refusals(judged: list[Judged]) -> Iterator[str]:
    """The lines with which folders were refused."""
    for one in judged:
        if one.printed.refusal:
            yield f"{one.case.seed}: {one.printed.refusal}"


def _classes(judged: list[Judged]) -> dict[str, list[Judged]]:
    classes: dict[str, list[Judged]] = {"all": judged}
    for one in judged:
        for name, value in one.case.classes.items():
            classes.setdefault(f"{name}: {value}", []).append(one)
    return {"all": classes.pop("all"), **dict(sorted(classes.items()))}


def _special(case: Case) -> str:
    """The habits that are not everybody's."""
    usual = {
        "satellite",
        "none",
        "noted",
        "one",
        "all",
        "complete",
        "rounded",
        "same rpm",
        "once",
        "front",
        "rear",
        "1",
    }
    named = {name: value for name, value in case.classes.items() if value not in usual}
    return ", ".join(f"{name} {value}" for name, value in named.items())


def _totals(judged: list[Judged]) -> Iterator[str]:
    good = gone = pairs = falsely = 0
    for one in judged:
        if one.printed.results:
            good += len(good_rows(one.case.truth))
            gone += sum(place in good_rows(one.case.truth) for place in left_out(one.printed, one.case.truth))
            claims = [v.verdict for v in one.verdicts if v.subject == GEAR_CLAIM]
            pairs += bool(claims)
            falsely += WRONG in claims
    wrong = sum(any(v.verdict == WRONG for v in one.verdicts) for one in judged)
    yield f"- folders: {len(judged)}; with a wrong number as if sure: {wrong}"
    yield f"- refused: {sum(any(v.verdict == REFUSED for v in one.verdicts) for one in judged)}"
    yield f"- crashes: {sum(any(v.verdict == CRASH for v in one.verdicts) for one in judged)}"
    yield f"- Python warnings on the terminal: {sum(bool(one.printed.noise) for one in judged)} folders"
    yield f"- good readings left out: {gone} of {good} ({100 * gone / max(good, 1):.1f} %)"
    share = 100 * falsely / max(pairs, 1)
    yield f"- pairs in which a gear is falsely called out of line: {falsely} of {pairs} ({share:.1f} %)"
