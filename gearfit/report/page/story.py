"""The answer in one screen: the questions that a rider asks, and which findings answer them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from gearfit.records.results import Analysis, Finding
from gearfit.report.page.codes import CHANGE, CODES, NEXT, QUESTIONS, QUICKER, SPEEDOMETER
from gearfit.report.page.evidence import Shown, links
from gearfit.report.page.terms import explain
from gearfit.report.tables.in_units import InUnits, say

#: What says of a setup whether it changed as predicted.
_OF_CHANGE: Final = ("change-agrees", "change-disagrees", "change-undecided", "change-exchanged", "change-measured")
#: Of several timed spans some can differ and some not.
_OF_SPANS: Final = ("timed-differs", "timed-within-scatter")
#: What is said where no finding answers.
_SILENT: Final = {
    CHANGE: ("Nothing to compare", "No two setups could be compared."),
    QUICKER: ("Not timed", "No runs were timed."),
    SPEEDOMETER: (
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


def answers(both: InUnits, shown: Shown) -> list[Answer]:
    """Answer each question; `shown` holds what the page shows by name, as evidence."""
    found = []
    for question in QUESTIONS:
        pairs = [pair for pair in _pairs(both) if question in CODES[pair[0].code].questions]
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
        if verdict := _in_words(finding):
            first.setdefault(finding.about, verdict)
    for about in first:
        timed = [f.code == "timed-differs" for f in findings if f.about == about and f.code in _OF_SPANS]
        if any(timed) and not all(timed):
            first[about] = f"Beyond the scatter in {sum(timed)} of {len(timed)} timed spans"
    if len(set(first.values())) < 2 or "" in first:
        return next(iter(first.values()), "See below")
    return "; ".join(f"{about}: {verdict[0].lower()}{verdict[1:]}" for about, verdict in first.items())


def _in_words(finding: Finding) -> str:
    entry = CODES[finding.code]
    return entry.by_outcome.get(finding.outcome, entry.verdict)


def certainty(analysis: Analysis, other: str) -> str:
    """Return how sure it is that a setup changed as predicted, in words; empty where nothing is said of it."""
    return next((_in_words(f) for f in analysis.findings if f.about == other and f.code in _OF_CHANGE), "")


def further(both: InUnits, shown: Shown) -> list[Group]:
    """Return the notes that no question asks for, setup by setup (warnings stand under "What next?")."""
    groups: dict[str, list[Sentence]] = {}
    for kmh, mph in _unasked(both):
        if kmh.severity != "warning":
            groups.setdefault(kmh.about or "The files", []).append(_sentence(kmh, mph, shown))
    return [Group(title, tuple(sentences)) for title, sentences in groups.items()]


def _unasked(both: InUnits) -> list[tuple[Finding, Finding]]:
    return [pair for pair in _pairs(both) if not CODES[pair[0].code].questions]


def _pairs(both: InUnits) -> Iterable[tuple[Finding, Finding]]:
    return zip(both[0].findings, both[1].findings, strict=True)


def _sentence(kmh: Finding, mph: Finding, shown: Shown) -> Sentence:
    sign, word = SEVERITIES[kmh.severity]
    return Sentence(kmh.severity, kmh.code, sign, word, say(explain(kmh.text), explain(mph.text)), links(kmh, shown))


def _plain(text: str) -> Sentence:
    sign, word = SEVERITIES["note"]
    return Sentence("note", "", sign, word, explain(text), Markup())
