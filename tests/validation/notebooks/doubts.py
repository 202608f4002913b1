"""Whether a report says what is doubtful about a folder, in its warnings and in the lines on the terminal."""

from __future__ import annotations

import re
from typing import Final

from tests.validation.notebooks.printed import Printed
from tests.validation.notebooks.truth import Truth
from tests.validation.notebooks.verdicts import WARNED, WARNED_BELOW, WRONG

TEETH: Final = r"teeth|tooth|gearbox|primary|sprocket|bike\.toml"
PICK_UP: Final = r"(driven from|on|from) the gearbox|gearbox output|pick-up"
NUMBERING: Final = r"number(ed|ing)|which gears?|gear column|gears? (was|were|is|are) not (noted|written|known)|no gear"
SPEEDOMETER: Final = r"speedometer"
COPIES: Final = r"twice|cop(y|ies|ied)|same (run|row|time)"
#: Words of a line on the terminal that is not sure of its number.
UNSURE: Final = (
    r"doubt|unclear|cannot|not certain|uncertain|unless|perhaps|may be|disagree|not agree|not shown|questionable|"
    r"check|far from|not road speed"
)
#: What the terminal says instead of a change that is known too badly.
NOT_TOLD: Final = "these readings cannot tell"
#: The same where a row was misread.
OUT_OF_LINE: Final = r"out of line|misread"
#: Lines on the terminal by the number they print; of the others none softens it.
ABOUT_CHANGE: Final = r"^(?!.*(circumference|speedometer:|the report has|\d s, then))"
ABOUT_CIRCUMFERENCE: Final = r"circumference"


def warns_of(printed: Printed, pattern: str, any_severity: bool = False) -> bool:
    """Tell whether a warning (or any finding) speaks of something."""
    return any(
        re.search(pattern, finding["text"], re.IGNORECASE)
        for finding in printed.findings
        if any_severity or finding["severity"] == "warning"
    )


def names_slip(printed: Printed, truth: Truth) -> bool:
    """Tell whether a warning names file and line of a misread row."""
    return any(
        warns_of(printed, rf"(?s){re.escape(file)}(?!.*{re.escape(file)}).*\blines?\b[^.]*?\b{line}\b")
        or warns_of(printed, rf"{re.escape(file)},? lines? [^.]*?\b{line}\b")
        for file, line in truth.slips
    )


def softened(verdict: str, printed: Printed, doubts: list[str], slip: bool = False, headline: str = "") -> str:
    """Turn a wrong number into a warned one where a warning names exactly that doubt.

    Where the number stands on the terminal as well, `headline` tells its lines, which have to carry the doubt too.
    """
    if verdict != WRONG or not (slip or any(warns_of(printed, pattern) for pattern in doubts)):
        return verdict
    return headline_verdict(printed, doubts + [OUT_OF_LINE] * slip, headline) if headline else WARNED


def headline_verdict(printed: Printed, doubts: list[str], headline: str) -> str:
    """Tell whether the lines on the terminal that print a number carry its doubt."""
    lines = [line for line in printed.headline.splitlines()[1:] if re.search(headline, line, re.IGNORECASE)]
    return WARNED if re.search("|".join([UNSURE, *doubts]), "\n".join(lines), re.IGNORECASE) else WARNED_BELOW
