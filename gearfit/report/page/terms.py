"""Terms whose meaning a tap shows, and how they are marked in a sentence."""

from __future__ import annotations

import re
from typing import Final

from markupsafe import Markup, escape

#: Term -> name, meaning.
TERMS: Final = {
    "95 % interval": (
        "interval",
        "If the rides were repeated again and again, 95 of 100 such intervals would hold the true value. Two numbers "
        "whose intervals overlap widely may be the same.",
    ),
    "standard errors": (
        "standard-error",
        "A standard error is the usual distance of an estimate from the truth. Two happen by chance once in twenty "
        "times, four hardly ever.",
    ),
    "standard deviation": ("scatter", "How far single runs usually lie from their mean."),
    "scatter": ("scatter", "How far single runs or readings usually lie from their mean."),
    "rolling circumference": (
        "circumference",
        "The distance that the machine covers in one turn of the driven wheel, rider up.",
    ),
    "nominal": ("nominal", "What the tyre size leads one to expect, or what bike.toml states."),
    "overall ratio": (
        "ratio",
        "Turns of the engine for one turn of the driven wheel: primary drive x gear x final drive.",
    ),
    "deviation": (
        "deviation",
        "How far a gear's ratio is from the tooth counts once the one circumference that suits the other gears best is "
        "taken out.",
    ),
    "tooth counts": (
        "tooth-counts",
        "Teeth of the sprockets as stated: road speed goes with the front teeth in proportion, with the rear teeth "
        "inversely.",
    ),
    "passages": (
        "passage",
        "One stretch ridden in one gear, or one row of a sheet. Samples within a passage share their errors, so "
        "passages, not samples, decide how wide an interval is.",
    ),
    "left out": (
        "left-out-term",
        "Samples that show no gear: clutch in, shifting, wheelspin, standing, or a value missing.",
    ),
    "out of line": (
        "out-of-line",
        "Farther from the others than chance would put any one gear in 1 % of rides.",
    ),
    "tachometer": ("tachometer", "The instrument that shows engine speed, rpm."),
    "satellite receiver": ("receiver", "A recorder that takes speed and position from navigation satellites."),
    "final drive": (
        "final-drive",
        "The last pair of gears or sprockets on the way to the wheel: rear teeth / front teeth.",
    ),
    "pulse corrector": (
        "corrector",
        "A part between pick-up and speedometer that changes how many pulses get through.",
    ),
}
_SPACE: Final = "[ \N{NO-BREAK SPACE}]"
_TERM: Final = "|".join(re.escape(term).replace(r"\ ", _SPACE) for term in sorted(TERMS, key=len, reverse=True))
#: A term with the bracket before it and the mark after it, which stay on its line.
_ANY: Final = re.compile(rf"(\(?)({_TERM})([).,;:]?)", re.IGNORECASE)
#: A number and its unit stay on one line.
_NUMBER: Final = re.compile(r"(?<=\d) (?=(?:%|s|m|mm|rpm|km/h|mph|N)(?!\w))")


def explain(text: str) -> Markup:
    """Escape a sentence and make the first mention of each term in it a button that shows the meaning."""
    seen: set[str] = set()

    def marked(match: re.Match[str]) -> str:
        before, term, after = match.groups()
        name, _ = TERMS[term.lower().replace("\N{NO-BREAK SPACE}", " ")]
        if name in seen:
            return match[0]
        seen.add(name)
        button = f'<button type="button" class="term" popovertarget="term-{name}">{term}</button>'
        return f'<span class="tie">{before}{button}{after}</span>' if before or after else button

    tied = _NUMBER.sub("\N{NO-BREAK SPACE}", str(escape(text)))
    return Markup(_ANY.sub(marked, tied))  # noqa: S704


def meanings() -> list[tuple[str, str, str]]:
    """Return name, term and meaning, each name once."""
    found: dict[str, tuple[str, str, str]] = {}
    for term, (name, meaning) in TERMS.items():
        found.setdefault(name, (name, term[0].upper() + term[1:], meaning))
    return list(found.values())
