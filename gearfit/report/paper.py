"""What of the page goes on paper: three sheets at the most; what finds no room there is left to the screen, and named.

A browser breaks the pages. How much room each part takes is reckoned from its lines and from the shape of its picture,
in millimetres, for what A4 and Letter have in common within the margins of the style sheet, and on the safe side.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from gearfit.report.cells import Table
from gearfit.report.figures import DrawnFigure
from gearfit.report.story import Answer
from gearfit.words import count

SHEETS: Final = 3
_SHEET_MM: Final = 258.0
#: Pictures that go on paper, the most telling first; those in `_WHOLE_WIDTH` across the sheet, others two abreast.
_PICTURES: Final = ("change-per-gear", "timed-runs", "speedometer-error", "speed-against-rpm")
_WHOLE_WIDTH: Final = ("speed-against-rpm",)
#: Tables and sentences that stay on the screen always.
_SCREEN_TABLES: Final = ("left-out", "runs", "runs-left-out", "could-show")
_SCREEN_SENTENCES: Final = ("speeds-at-rpm", "run-left-out", "run-caution")
#: Tables across the sheet; of two setups, others go two abreast.
_WIDE_TABLES: Final = ("gears", "timed-spans", "both-ways", "speedometer")
#: Last rows of the key figures, which the style sheet does not print.
_UNPRINTED_ROWS: Final = 3
#: What is left out first: the last of the highest rank.
_FIRST, _SECOND, _THIRD, _FOURTH, _LAST, _NEVER = 5, 4, 3, 2, 1, 0
_TABLE_RANKS: Final = {"sprockets": _SECOND, "changes": _LAST, "timed-spans": _LAST}
#: Of what was left out, so many are tried again in the room that others have made.
_TRIED: Final = 50
#: Letters in a line across the sheet and in one across half of it; heights of lines and of what stands around them, mm.
_LETTERS: Final = 118
_HALF_LETTERS: Final = 54
_LARGE_LETTERS: Final = 90
_LINE_MM: Final = 3.9
_LARGE_LINE_MM: Final = 4.5
_SMALL_LINE_MM: Final = 3.5
_ROW_MM: Final = 4.0
_TITLE_MM: Final = 6.0
_HEAD_MM: Final = 8.0
_OPENING_MM: Final = 20.0
_HEADLINE_MM: Final = 14.0
_QUESTION_MM: Final = 7.0
_CLOSING_MM: Final = 72.0
_CARD_MM: Final = 8.0
_NEXT_CARD_MM: Final = 62.0
_PICTURE_WIDTH_MM: Final = 194.0
_HALF_PICTURE_WIDTH_MM: Final = 96.0
_SHAPE: Final = re.compile(r'class="(wide|narrow)" viewBox="0 0 ([\d.]+) ([\d.]+)"')


@dataclass(frozen=True)
class Part:
    """A part of the page: its name, room on paper, rank among what is left out (0: never), whether two go abreast."""

    name: str
    height_mm: float
    rank: int = _NEVER
    half: bool = False


def sentence_name(question: int, place: int) -> str:
    """Return the name of a sentence of an answer."""
    return f"sentence-{question}-{place}"


def left_to_the_screen(
    headlines: int,
    answers: Sequence[Answer],
    key_figures: Table,
    figures: Sequence[DrawnFigure],
    sections: Sequence[tuple[str, Table]],
    cards: int,
) -> frozenset[str]:
    """Return the names of the sentences, pictures and tables that do not go on paper."""
    never = {
        *(figure.name for figure in figures if figure.name not in _PICTURES),
        *(name for name, table in sections if table.name in _SCREEN_TABLES),
        *(name for name, code in _codes(answers) if code in _SCREEN_SENTENCES),
    }
    several = is_several(key_figures)
    pictures = list(_of_figures(figures))
    never |= {picture.name for picture in pictures if picture.height_mm > _SHEET_MM}
    parts = [
        Part("opening", _OPENING_MM + _HEADLINE_MM * headlines),
        *_of_answers(answers),
        Part("key-figures", _key_figures_mm(key_figures)),
        *pictures,
        *(_of_table(name, table, several=several) for name, table in sections),
        Part("closing", _CLOSING_MM + (_CARD_MM + _NEXT_CARD_MM * (cards - 1) if cards else 0.0)),
    ]
    return frozenset(never | _beyond([part for part in parts if part.name not in never]))


def is_several(key_figures: Table) -> bool:
    """Whether there are more setups than two, whose tables take the whole width of the sheet."""
    return len(key_figures.head) > 3


def unseen_warnings(answers: Sequence[Answer], screen: Collection[str]) -> list[int]:
    """Return of each answer how many of its warnings do not go on paper."""
    return [
        sum(
            sentence.severity == "warning" and sentence_name(question, place) in screen
            for place, sentence in enumerate(answer.sentences)
        )
        for question, answer in enumerate(answers)
    ]


def named(screen: Collection[str], titles: Mapping[str, str]) -> str:
    """Say what does not go on paper: `titles` are those of pictures and tables by their names."""
    sentences = sum(name not in titles for name in screen)
    said = [title for name, title in titles.items() if name in screen]
    said += [count(sentences, "sentence") + " of the answers"] if sentences else []
    return "; ".join([*said, "what else was found", "what the words mean"])


def _beyond(parts: list[Part]) -> set[str]:
    """Return the parts to leave out, the last of the highest rank first, until the others fit."""
    places = [place for place, part in enumerate(parts) if part.rank != _NEVER]
    order = [parts[place].name for place in sorted(places, key=lambda place: (-parts[place].rank, -place))]
    fewest = bisect_left(range(len(order)), True, key=lambda n: _sheets(parts, set(order[:n])) <= SHEETS)
    left = set(order[:fewest])
    for name in order[:fewest][: -_TRIED - 1 : -1]:
        if _sheets(parts, left - {name}) <= SHEETS:
            left.remove(name)
    return left


def _sheets(parts: Sequence[Part], left: Collection[str]) -> int:
    """Return on how many sheets the parts stand that are not left out; none is broken that fits on one."""
    sheets, used_mm = 1, 0.0
    for height_mm in _rows([part for part in parts if part.name not in left]):
        if used_mm + height_mm > _SHEET_MM and used_mm > 0:
            sheets, used_mm = sheets + 1, 0.0
        used_mm += height_mm
        while used_mm > _SHEET_MM:
            sheets, used_mm = sheets + 1, used_mm - _SHEET_MM
    return sheets


def _rows(parts: Sequence[Part]) -> Iterator[float]:
    """Put parts of half width side by side where two follow each other; return the height of each row."""
    waiting = 0.0
    for part in parts:
        if part.half and waiting:
            yield max(waiting, part.height_mm)
            waiting = 0.0
        elif part.half:
            waiting = part.height_mm
        else:
            if waiting:
                yield waiting
            waiting = 0.0
            yield part.height_mm
    if waiting:
        yield waiting


def _codes(answers: Sequence[Answer]) -> Iterator[tuple[str, str]]:
    for question, answer in enumerate(answers):
        for place, sentence in enumerate(answer.sentences):
            yield sentence_name(question, place), sentence.code


def _of_answers(answers: Sequence[Answer]) -> Iterator[Part]:
    for question, answer in enumerate(answers):
        for place, sentence in enumerate(answer.sentences):
            lead = _question_mm(answer) if place == 0 else 1.0
            mark = len(sentence.word) + 3 if sentence.severity == "warning" else 0
            height_mm = lead + _LINE_MM * math.ceil((mark + _length(sentence.text)) / _LETTERS)
            rank = _NEVER if place == 0 else _LAST if place < 3 else _THIRD
            yield Part(sentence_name(question, place), height_mm, rank)


def _question_mm(answer: Answer) -> float:
    """Return the height of a question with its verdict, whose letters are larger."""
    lines = math.ceil((len(answer.question) + len(answer.verdict)) / _LARGE_LETTERS)
    return _QUESTION_MM + _LARGE_LINE_MM * (lines - 1)


def _of_figures(figures: Sequence[DrawnFigure]) -> Iterator[Part]:
    for figure in sorted(
        (each for each in figures if each.name in _PICTURES), key=lambda each: _PICTURES.index(each.name)
    ):
        half = figure.name not in _WHOLE_WIDTH
        shapes = {kind: float(high) / float(wide) for kind, wide, high in _SHAPE.findall(figure.pictures)}
        width_mm, letters = (_HALF_PICTURE_WIDTH_MM, _HALF_LETTERS) if half else (_PICTURE_WIDTH_MM, _LETTERS)
        height_mm = _TITLE_MM + width_mm * shapes["narrow" if half else "wide"]
        height_mm += _SMALL_LINE_MM * (1 + _lines(figure.caption, letters))
        yield Part(figure.name, height_mm, _LAST if half else _FIRST, half)


def _of_table(name: str, table: Table, *, several: bool) -> Part:
    half = table.name not in _WIDE_TABLES and not several
    letters = _HALF_LETTERS if half else _LETTERS
    height_mm = _TITLE_MM + (_HEAD_MM if half else 0.0) + _rows_mm(table, letters)
    height_mm += _SMALL_LINE_MM * _lines(table.remark, letters)
    return Part(name, height_mm, _TABLE_RANKS.get(table.name, _FOURTH), half)


def _key_figures_mm(table: Table) -> float:
    """Return the height of the key figures, whose columns are alike and whose longest cells are broken."""
    letters = _LETTERS / len(table.head)
    rows = [[_length(cell) for cell in table.head]]
    rows += [[_length(cell.text) + _length(cell.below) for cell in row] for row in table.rows[:-_UNPRINTED_ROWS]]
    return _HEAD_MM + sum(_ROW_MM * math.ceil((max(row) + 1) / letters) for row in rows)


def _rows_mm(table: Table, letters: int) -> float:
    """Return the height of a table with its head, whose longest rows are broken."""
    rows = [[(cell, "") for cell in table.head], *([(cell.text, cell.below) for cell in row] for row in table.rows)]
    lengths = [sum(_length(text) + _length(below) + 1 for text, below in row) for row in rows]
    return _HEAD_MM - _ROW_MM + sum(_ROW_MM * math.ceil(length / letters) for length in lengths)


def _lines(text: str, letters: int) -> int:
    return math.ceil(_length(text) / letters)


def _length(text: str) -> float:
    """Return the letters of a text as it stands on the page, in one unit of speed."""
    both = str(text).startswith('<span class="kmh">')
    plain = text.striptags() if isinstance(text, Markup) else text
    return len(plain) / (2 if both else 1)
