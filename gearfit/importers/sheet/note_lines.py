"""Lines of a note: "3rd 5000 rpm 50 mph", "60-100 km/h 6.4 s". What a line leaves open is shown written both ways."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.common.gear_words import read_gear
from gearfit.importers.common.quoting import quoted
from gearfit.importers.common.unit_spellings import RPM_SPELLINGS

#: Lines of a text with their numbers in the file.
Lines = list[tuple[int, str]]

#: Lines of a note that have to say the same things for it to be a sheet, and share that may say something else.
FEWEST_LINES: Final = 2
_MOST_STRANGE: Final = 0.5
_BARE: Final = r"\d+(?:[.,]\d+)?"
_NUMBER: Final = rf"[~≈]?\s*{_BARE}\s*\??"
_SPEED_UNIT: Final = r"(?:km\s?/?\s?h|kph|mph|mi/h)"
_SPEED: Final = re.compile(rf"(?<![\d.,]){_NUMBER}\s*{_SPEED_UNIT}(?![a-z/])", re.IGNORECASE)
_TURNS: Final = "|".join(re.escape(spelling) for spelling in sorted(RPM_SPELLINGS, key=len, reverse=True))
_RPM_UNIT: Final = rf"(?:{_TURNS}|r\.p\.m\.|revs)"
_RPM: Final = re.compile(rf"(?<![\d.,])({_NUMBER})\s*{_RPM_UNIT}(?![a-z])", re.IGNORECASE)
SPAN: Final = re.compile(
    rf"(?<![\d.,])({_BARE})\s*(?:-|\N{{EN DASH}}|to)\s*({_BARE})\s*({_SPEED_UNIT})?(?![\w/])",
    re.IGNORECASE,
)
_SECONDS: Final = re.compile(rf"(?<![\d.,])({_BARE})\s*(?:s|sec|secs|seconds)(?![a-z/])", re.IGNORECASE)
#: Two values between which a needle swung: "50-52 mph".
_RANGE: Final = re.compile(
    rf"(?<![\d.,])({_BARE})\s*(?:-|\N{{EN DASH}}|/|to)\s*({_BARE})\s*({_SPEED_UNIT}|{_RPM_UNIT})(?![a-z/])",
    re.IGNORECASE,
)
#: Words and places in which a doubt is written; "~" and "?" behind the number say the same.
_ABOUT: Final = re.compile(
    r"\b(?:about|approx\.?|approximately|ca\.?|circa|roughly|around|etwa|environ)\s*(?=\d)", re.I
)
_DOUBT_BEHIND: Final = re.compile(rf"({_BARE})(\s*(?:{_SPEED_UNIT}|{_RPM_UNIT}))\s*\?", re.IGNORECASE)
#: A number or mark of the line in a list, and the writer of it: no gears.
_BULLET: Final = re.compile(r"^(?:\d+\s*\)|\(\d+\)|[-*•])\s*|\bI\s+(?=[a-z]{2,})")
#: What may count the runs rather than name a gear.
_COUNTED: Final = re.compile(r"\d+\.?")
#: Words that tell whose speed it is. "Tacho" is none: a speedometer in German, a tachometer elsewhere.
_DASH_WORD: Final = re.compile(r"\b(?:speedo(?:meter)?|dash|clocks?|indicated|compteur|teller)\b", re.IGNORECASE)
_TRUE_WORD: Final = re.compile(r"\b(?:gps|satnav|satellite|navi)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Written:
    """The text as a sheet, and the line of the file (from 1) that each of its lines comes from."""

    text: str
    lines: tuple[int, ...]


def written(head: str, rows: Iterable[tuple[int, Iterable[str]]]) -> Written:
    """Return a sheet of a header (tab between cells) and rows with their lines in the file."""
    found = [(number, "\t".join(cells)) for number, cells in rows]
    return Written("\n".join([head, *(row for _, row in found)]) + "\n", (1, *(number for number, _ in found)))


def key_of_unit(text: str) -> str:
    """Return the key of km/h or mph."""
    return "mph" if text.lower().startswith("m") else "kmh"


def note_of_readings(name: str, lines: Lines) -> Written | None:
    """Read lines that each say a gear, an engine speed and a speed, in whatever order.

    Raises
    ------
    LogError
        A line names two gears or the ends of a range, or only some lines say that the speed is the dash's.
    """
    rows: list[tuple[int, tuple[str, ...]]] = []
    dashes: dict[int, bool] = {}
    open_questions: list[tuple[int, str, list[str]]] = []
    for number, line in lines:
        plain = _DOUBT_BEHIND.sub(r"\1?\2", _ABOUT.sub("~", _BULLET.sub("", line)))
        speeds, rpms = _SPEED.findall(plain), _RPM.findall(plain)
        if len(speeds) != 1 or len(rpms) != 1:
            continue
        rest = _RPM.sub(" ", _SPEED.sub(" ", plain))
        dashes[number] = bool(_DASH_WORD.search(rest)) and not _TRUE_WORD.search(rest)
        gears = _gears_in(_TRUE_WORD.sub(" ", _DASH_WORD.sub(" ", rest)))
        open_questions += [(number, line, gears)] if len({read_gear(gear) for gear in gears}) > 1 else []
        _refuse_range(name, number, plain)
        rows.append((number, (gears[0], rpms[0], " ".join(speeds[0].split()))))
    if not _enough(len(rows), lines):
        return None
    for number, line, gears in open_questions:
        _, (_, rpm, speed) = next(row for row in rows if row[0] == number)
        both = " or ".join(quoted(f"gear {read_gear(gear)} {rpm.strip()} rpm {speed.strip()}") for gear in gears[:2])
        raise LogError(f"{name}, line {number}", f"{quoted(line)} names more than one gear", f"Write {both}")
    if len(set(dashes.values())) > 1:
        number = next(number for number, dash in dashes.items() if not dash)
        raise LogError(
            f"{name}, line {number}",
            "other lines say that the speed is the dash's, this one does not say whose it is",
            "Write dash or GPS behind the speed of each line, dash and GPS in files of their own",
        )
    return written(f"gear\trpm\t{'indicated speed' if any(dashes.values()) else 'speed'}", rows)


def note_of_runs(name: str, lines: Lines) -> Written | None:
    """Read lines that each say a span with its unit, and seconds.

    Raises
    ------
    LogError
        Lines name different gears: runs over one span are compared as one.
    """
    rows, units = [], set()
    gears: dict[tuple[str, ...], dict[int, int]] = {}
    for number, line in lines:
        plain = _BULLET.sub("", line)
        spans, seconds = SPAN.findall(plain), _SECONDS.findall(SPAN.sub(" ", plain))
        if len(spans) == 1 and len(seconds) == 1 and spans[0][2]:
            rows.append((number, (*spans[0][:2], seconds[0].replace(",", "."))))
            units.add(key_of_unit(spans[0][2]))
            said = _gears_in(_SECONDS.sub(" ", SPAN.sub(" ", plain)))[0]
            if not _COUNTED.fullmatch(said) and (gear := read_gear(said)) is not None:
                gears.setdefault(spans[0], {}).setdefault(gear, number)
    if len(units) != 1 or not _enough(len(rows), lines):
        return None
    for span, named in gears.items():
        if len(named) > 1:
            raise LogError(
                f"{name}, line {max(named.values())}",
                f"the runs over {span[0]} to {span[1]} {span[2]} are in different gears; such times are not alike",
                "Keep the runs of one gear here, those of another gear as a file in a ride folder of its own",
            )
    (unit,) = units
    return written(f"from_{unit}\tto_{unit}\ttime_s", rows)


def _enough(found: int, lines: Lines) -> bool:
    return found >= FEWEST_LINES and found >= (1 - _MOST_STRANGE) * len(lines)


def _refuse_range(name: str, number: int, line: str) -> None:
    for low, high, unit in _RANGE.findall(line):
        first, second = (float(end.replace(",", ".")) for end in (low, high))
        if first < second < 2 * first:
            middle = f"~{(first + second) / 2:g} {unit}"
            raise LogError(
                f"{name}, line {number}",
                f"{quoted(f'{low}-{high} {unit}')} are two values; allowed is one",
                f"Write what it was, or the middle as a doubtful one: {quoted(middle)}",
            )


def _gears_in(text: str) -> list[str]:
    """Return what the rest of a line says of the gear, each gear once.

    Where nothing can be read as a gear it is the whole rest, or "" where there is none.
    """
    bare = re.sub(r"\b(?:at|bei|is|in|a|à|en|held|and)\b|[@:=,;|()\-]", " ", text, flags=re.IGNORECASE)
    words = bare.split()
    found: dict[int, str] = {}
    for count in (2, 1):
        for i in range(len(words) - count + 1):
            candidate = " ".join(words[i : i + count])
            gear = read_gear(candidate)
            if gear is not None:
                found.setdefault(gear, candidate)
    return list(found.values()) or [" ".join(words)]
