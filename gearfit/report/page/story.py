"""The answer in one screen: the questions that a rider asks, and which findings answer them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from gearfit.records.results import Analysis, Finding
from gearfit.report.page.evidence import links
from gearfit.report.page.terms import explain
from gearfit.report.tables.in_units import InUnits, say

CHANGE: Final = "Is it what the teeth predict?"
NEXT: Final = "What next?"
#: Question -> beginnings of the codes of the findings that answer it.
QUESTIONS: Final = {
    CHANGE: (
        *(
            "clutch-",
            "odd-row",
            "same-number",
            "gear-suspected",
            "change-",
            "no-common-gear",
            "speedometer-gearbox-driven",
        ),
        "speeds-at-rpm",
        *("gear-out-of-line", "tooth-pairs", "front-sprocket-guess"),
    ),
    "Is it quicker?": ("timed-", "no-timed-runs", "run-", "span-", "roll-on", "predicted-time", "swap-", "thrust-"),
    "Does the speedometer need correcting?": ("speedometer", "odometer"),
    NEXT: ("wish-", "one-more-ride", "one-setup", "no-bike-file", "bike-file-incomplete"),
}
#: How sure the first finding of an answer is, in words.
VERDICTS: Final = {
    "clutch-suspect": "Look at the clutch first",
    "change-agrees": "Yes, within the interval",
    "change-disagrees": "No, beyond the scatter",
    "change-undecided": "Cannot tell yet",
    "change-exchanged": "Before and after look exchanged",
    "change-measured": "Nothing was predicted",
    "no-common-gear": "Cannot be compared",
    "speedometer-gearbox-driven": "Cannot be seen this way",
    "timed-differs": "A difference beyond the scatter",
    "timed-within-scatter": "Not shown by these runs",
    "timed-too-few": "Cannot tell yet",
    "no-timed-runs": "Not timed",
    "speedometer-under-reads": "Yes, it shows too little",
    "speedometer-only": "Cannot tell from itself",
    "speedometer-not-judged": "Cannot tell yet",
    "wish-met": "The wish is met",
    "one-more-ride": "Not settled yet",
    "one-setup": "Ride the other setup",
}
_OF_CHANGE: Final = tuple(code for code in VERDICTS if code.startswith("change-"))
#: Of several timed spans some can differ and some not.
_OF_SPANS: Final = ("timed-differs", "timed-within-scatter")
#: What is said where no finding answers.
_SILENT: Final = {
    CHANGE: ("Nothing to compare", "No two setups could be compared."),
    "Is it quicker?": ("Not timed", "No runs were timed."),
    "Does the speedometer need correcting?": (
        "Not looked at",
        "What the speedometer showed was not recorded. Note it beside the measured speed, and it is judged.",
    ),
    NEXT: ("Nothing is open", "Of the change of gearing no doubt is left that one more ride would settle."),
}
#: Sign and word of a severity: never told by colour alone.
SEVERITIES: Final = {"note": ("●", "Finding"), "warning": ("▲", "Check this")}


@dataclass(frozen=True)
class Sentence:
    """A finding as the page shows it."""

    severity: str
    code: str
    sign: str
    word: str
    text: Markup
    links: Markup


@dataclass(frozen=True)
class Answer:
    """A question, how sure the answer is, and the sentences of it."""

    question: str
    verdict: str
    sentences: tuple[Sentence, ...]


@dataclass(frozen=True)
class Group:
    """Further findings about one setup, or about none in particular."""

    title: str
    sentences: tuple[Sentence, ...]


def answers(both: InUnits, shown: dict[str, str]) -> list[Answer]:
    """Answer each question; `shown` holds what the page shows by name, as evidence."""
    found = []
    for question, codes in QUESTIONS.items():
        pairs = [pair for pair in _pairs(both) if pair[0].code.startswith(codes)]
        verdict, silent = _SILENT[question]
        checks = [pair for pair in _unasked(both) if pair[0].severity == "warning"] if question == NEXT else []
        if pairs:
            verdict = _verdict([kmh for kmh, _ in pairs])
        if checks:
            verdict, pairs = "Check this first", [*checks, *pairs]
        sentences = tuple(_sentence(*pair, shown) for pair in pairs)
        found.append(Answer(question, verdict, sentences or (_plain(silent),)))
    return found


def _verdict(findings: list[Finding]) -> str:
    """Return how sure the first finding is, or that of each setup where they differ."""
    first: dict[str, str] = {}
    for finding in findings:
        if finding.code in VERDICTS:
            first.setdefault(finding.about, VERDICTS[finding.code])
    for about in first:
        timed = [f.code == "timed-differs" for f in findings if f.about == about and f.code in _OF_SPANS]
        if any(timed) and not all(timed):
            first[about] = f"Beyond the scatter in {sum(timed)} of {len(timed)} timed spans"
    if len(set(first.values())) < 2 or "" in first:
        return next(iter(first.values()), "See below")
    return "; ".join(f"{about}: {verdict[0].lower()}{verdict[1:]}" for about, verdict in first.items())


def certainty(analysis: Analysis, other: str) -> str:
    """Return how sure it is that a setup changed as predicted, in words; empty where nothing is said of it."""
    return next((VERDICTS[f.code] for f in analysis.findings if f.about == other and f.code in _OF_CHANGE), "")


def further(both: InUnits, shown: dict[str, str]) -> list[Group]:
    """Return the notes that no question asks for, setup by setup (warnings stand under "What next?")."""
    groups: dict[str, list[Sentence]] = {}
    for kmh, mph in _unasked(both):
        if kmh.severity != "warning":
            groups.setdefault(kmh.about or "The files", []).append(_sentence(kmh, mph, shown))
    return [Group(title, tuple(sentences)) for title, sentences in groups.items()]


def _unasked(both: InUnits) -> list[tuple[Finding, Finding]]:
    asked = tuple(code for codes in QUESTIONS.values() for code in codes)
    return [pair for pair in _pairs(both) if not pair[0].code.startswith(asked)]


def _pairs(both: InUnits) -> Iterable[tuple[Finding, Finding]]:
    return zip(both[0].findings, both[1].findings, strict=True)


def _sentence(kmh: Finding, mph: Finding, shown: dict[str, str]) -> Sentence:
    sign, word = SEVERITIES[kmh.severity]
    return Sentence(
        kmh.severity, kmh.code, sign, word, say(explain(kmh.text), explain(mph.text)), links(kmh.code, shown)
    )


def _plain(text: str) -> Sentence:
    sign, word = SEVERITIES["note"]
    return Sentence("note", "", sign, word, explain(text), Markup())
