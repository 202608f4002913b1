"""Gears as people write them: 3, 3rd, 3., third, III, G3, "3. Gang", 3ª, trean, 3/6, N."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.common.cells import missing

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Highest gear taken for one: six is the most that is common, with room above (common practice, no source).
MOST_GEARS: Final = 8
NEUTRAL_GEAR: Final = 0
#: How many gears there are, of the fewest, for "3/6" to be the third of six and no "third or fourth".
_FEWEST_OF: Final = 4

#: Number words and ordinals without accents: English, German, French, Italian, Spanish and Portuguese, Dutch, Nordic.
_NUMBER_WORDS: Final = (
    "one first eins erster erste ersten un premier premiere uno prima primera primeira een eerste ett ettan "
    "forsta forste",
    "two second zwei zwo zweiter zweite zweiten deux deuxieme seconde due seconda dos segunda dois twee tweede "
    "tva tvaan andra andre anden",
    "three third drei dritter dritte dritten trois troisieme tre terza tres tercera terceira drie derde trean tredje",
    "four fourth vier vierter vierte vierten quatre quatrieme quattro quarta cuatro cuarta quatro vierde fyra "
    "fyran fjarde fjerde fire",
    "five fifth funf fuenf funfter funfte funften fuenfter fuenfte cinq cinquieme cinque quinta cinco vijf vijfde "
    "fem femman femte",
    "six sixth sechs sechster sechste sechsten sixieme sei sesta seis sexta zes zesde sex sexan seks sjatte sjette",
    "seven seventh sieben siebter siebte sept septieme sette settima siete septima sete setima zeven zevende sju "
    "sjuan sjunde syv syvende",
    "eight eighth acht achter achte huit huitieme otto ottava ocho octava oito oitava achtste atta attan attonde "
    "otte ottende",
)
_WORDS: Final = {word: number for number, words in enumerate(_NUMBER_WORDS, 1) for word in words.split()}
_ROMAN: Final = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "iiii": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8}
_NEUTRAL: Final = frozenset(
    ("n", "neutral", "neutre", "neutro", "neutraal", "point mort", "punto muerto", "ponto morto", "folle", "leerlauf")
) | frozenset(("vrij", "vrijstand", "fri", "frigear", "frigir", "frilage"))
_NOUN: Final = r"(?:gear|gang|gir|gr|g|vitesse|rapport|marcia|marcha|versnelling|vaxel|bieg)(?![a-z])"
_NOUN_BEFORE: Final = re.compile(rf"{_NOUN}[\s.:=#_-]*(?=.)")
_NOUN_BEHIND: Final = re.compile(rf"[\s_-]*(?<![a-z]){_NOUN}\.?$|(?<=[0-9.]){_NOUN}$")
#: Endings of ordinals behind a digit.
_ENDINGS: Final = "st nd rd th er re ere e eme ieme nde de te ter ten ste a o ra ro da do ta to an".split()  # noqa: SIM905
_DIGITS: Final = re.compile(rf"([0-9]+)(?:[.,]0+|[.:°]?(?:{'|'.join(_ENDINGS)})?|\s(?:st|nd|rd|th))\.?")
_OF: Final = re.compile(r"([1-8])\s*(?:of|von|de|sur|van|av|di)\s*([1-8])")
_OVER: Final = re.compile(r"([1-8])\s*/\s*([1-8])")


@dataclass(frozen=True, eq=False)
class Gears:
    """A column of gears read.

    Attributes
    ----------
    gear : (n,) float
        Gear, 1 is first; NaN where none is stated or what is written cannot be read.
    neutral, unread : (n,) bool
        Rows noted as in neutral; rows with something written that is no gear.
    """

    gear: Floats
    neutral: Bools
    unread: Bools


def read_gears(cells: pd.Series[str]) -> Gears:
    """Read a column of gears.

    Parameters
    ----------
    cells : pandas.Series of str
        Cells as written.
    """
    empty = missing(cells)
    known: dict[str, int | None] = {text: read_gear(text) for text in cells[~empty].unique()}
    known |= _of_how_many(known)
    found = [None if blank else known[text] for text, blank in zip(cells, empty, strict=True)]
    values = np.array([np.nan if gear is None else gear for gear in found], dtype=np.float64)
    neutral = values == NEUTRAL_GEAR
    return Gears(np.where(neutral, np.nan, values), neutral, ~empty & np.isnan(values))


def read_gear(text: str) -> int | None:
    """Return the gear that a text states, `NEUTRAL_GEAR`, or None where it cannot be read with certainty."""
    bare = _plain(text)
    if bare in _NEUTRAL:
        return NEUTRAL_GEAR
    bare = _NOUN_BEHIND.sub("", _NOUN_BEFORE.sub("", bare, count=1) if _NOUN_BEFORE.match(bare) else bare)
    if whole := _OF.fullmatch(bare):
        number, count = int(whole[1]), int(whole[2])
        return number if number <= count else None
    if digits := _DIGITS.fullmatch(bare):
        number = int(digits[1])
        return number if number <= MOST_GEARS else None
    return _WORDS.get(bare) or _ROMAN.get(bare.rstrip("."))


def _plain(text: str) -> str:
    """Write a text in small letters without accents, brackets around it and more than one blank in a row."""
    apart = unicodedata.normalize("NFKD", text.replace("°", "o").casefold().replace("ø", "o"))
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return " ".join(bare.split()).strip("()[]'\" ")


def _of_how_many(known: dict[str, int | None]) -> dict[str, int]:
    """Read "3/6" as the third of six where each gear of the column but neutral is written so, with one number of gears.

    A single such cell, or one with few gears behind the stroke, might as well mean "third or fourth".
    """
    written = {text: _OVER.fullmatch(_plain(text)) for text, gear in known.items() if gear != NEUTRAL_GEAR}
    pairs = {text: (int(found[1]), int(found[2])) for text, found in written.items() if found}
    counts = {count for _, count in pairs.values()}
    certain = (
        len(pairs) == len(written)
        and len({number for number, _ in pairs.values()}) > 1
        and len(counts) == 1
        and min(counts) >= _FEWEST_OF
        and all(number <= count for number, count in pairs.values())
    )
    return {text: number for text, (number, _) in pairs.items()} if certain else {}
