"""Gears as riders write them; the spellings are common practice, no source, number words from dictionaries."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gearfit.importers.common.gear_words import NEUTRAL_GEAR, read_gear, read_gears
from tests.importers.conftest import Read

THIRD = (
    "3|3rd|3RD|3 rd|3rd.|3.|gear 3|Gear: 3|GEAR3|g 3|G3|3 gear|3rd gear|III|iii|Ⅲ|third|Third gear|three|3,0|3.0|3.00",
    "３|③|(3)|03|3. Gang|Gang 3|dritter Gang|3e|3ème|3ème rapport|troisième vitesse|3ª|3a|3º|3°|tercera|3ª marcha",
    "terza|terceira|3de|derde versnelling|3:an|3:e|trean|tredje gear|3. gir|växel 3|3 of 6|3 von 6|3\u00a0gear",
)
UNREAD = ("top|low|2.5|9|12|-3|3?|~3|3-4|3/4|3b|03-Jun|gear|G|7 of 6|33rd",)


def spellings(lines: tuple[str, ...]) -> list[str]:
    return [text for line in lines for text in line.split("|")]


@pytest.mark.parametrize("text", spellings(THIRD))
def test_the_third_gear(text: str) -> None:
    assert read_gear(text) == 3


@pytest.mark.parametrize("number", range(1, 9))
def test_every_number_in_figures_words_and_roman_figures(number: int) -> None:
    english = "first second third fourth fifth sixth seventh eighth".split()  # noqa: SIM905
    german = "erster zweiter dritter vierter fünfter sechster siebter achter".split()  # noqa: SIM905
    swedish = "ettan tvåan trean fyran femman sexan sjuan åttan".split()  # noqa: SIM905
    roman = "I II III IV V VI VII VIII".split()  # noqa: SIM905
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number, "th")
    for text in (f"{number}{ending}", *(words[number - 1] for words in (english, german, swedish, roman))):
        assert read_gear(text) == number


@pytest.mark.parametrize("text", ["N", "n", "Neutral", "0", "0.0", "Leerlauf", "point mort", "folle", "friläge"])
def test_neutral(text: str) -> None:
    assert read_gear(text) == NEUTRAL_GEAR


@pytest.mark.parametrize("text", spellings(UNREAD))
def test_what_cannot_be_read_with_certainty(text: str) -> None:
    assert read_gear(text) is None


@pytest.mark.parametrize(
    ("cells", "gears"),
    [
        (["3/6", "4/6", "N", ""], [3, 4, np.nan, np.nan]),
        (["3/6", "3/6"], [np.nan] * 2),
        (["2/3", "1/3"], [np.nan] * 2),
        (["3/6", "4/5"], [np.nan] * 2),
        (["3/6", "4/6", "5"], [np.nan, np.nan, 5]),
    ],
)
def test_a_stroke_is_read_only_where_all_the_column_says_how_many_gears_there_are(
    cells: list[str], gears: list[float]
) -> None:
    found = read_gears(pd.Series(cells, dtype="str"))
    assert list(found.gear) == pytest.approx(gears, nan_ok=True)


def test_a_column_tells_neutral_blank_and_unread_apart() -> None:
    found = read_gears(pd.Series(["1st", "", "-", "N", "top"], dtype="str"))
    assert list(found.gear) == pytest.approx([1, np.nan, np.nan, np.nan, np.nan], nan_ok=True)
    assert found.neutral.tolist() == [False, False, False, True, False]
    assert found.unread.tolist() == [False, False, False, False, True]


def test_a_log_names_the_gears_that_it_cannot_read(read: Read) -> None:
    log = read("time_s,gear,rpm\n0,1st,3000\n1,top,3000\n2,N,3000\n")
    assert log.samples["stated_gear"].tolist() == pytest.approx([1, np.nan, np.nan], nan_ok=True)
    assert log.notes[-1] == "Line 3, column 'gear': 'top' is no gear that can be read."
