"""The text of a bike.toml; a line whose quotation marks or decimal point are amiss is shown as it would be right."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gearfit.errors import BikeFileError
from gearfit.machine.bike_rules import RULES, shown

_LINE: Final = re.compile(r"\s*(?P<key>[\w.-]+)\s*=\s*(?P<value>.*?)\s*")
_LONGEST: Final = 300
_QUOTES: Final = str.maketrans(dict.fromkeys("“”„‟«»″", '"') | dict.fromkeys("‘’‚‛", "'"))
_DECIMAL_COMMA: Final = re.compile(r"(?<![\w.,\"])(\d+),(\d+)(?![\w.,\"])")


@dataclass(frozen=True)
class Mistyped:
    """A line that cannot be read: its number (from 1), as it stands, and as it would be read."""

    number: int
    line: str
    mended: str


def parsed(path: Path) -> dict[str, Any]:
    """Read the tables of a TOML file.

    Raises
    ------
    BikeFileError
        It is no file, cannot be opened, or is no TOML; a line that is only mistyped is shown as it would be right.
    """
    if path.exists() and not path.is_file():  # a pipe would be waited for
        raise BikeFileError(
            path.name, "this is a folder, a pipe or a device; allowed is a file", "Write it anew, or remove it"
        )
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise BikeFileError(path.name, f"cannot be opened ({error.strerror})", "Check the path") from None
    try:
        text = raw.decode("utf-8-sig")
        return tomllib.loads(text if _is_toml(text) else straight(text))
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise BikeFileError(
            f"{path.name}, line {line}", "is not UTF-8 text", "Save the file again with encoding UTF-8"
        ) from None
    except (ValueError, RecursionError) as error:
        wrong = mistyped(raw.decode("utf-8-sig"))
        if wrong is not None:
            raise BikeFileError(
                f"{path.name}, line {wrong.number}",
                f"found {shown(wrong.line)}; allowed are texts in straight quotation marks, and numbers with a point",
                f"Write {wrong.mended}",
            ) from None
        raise BikeFileError(
            path.name,
            f"is not valid TOML: {str(error)[:1].lower()}{str(error)[1:]}",
            'Write lines such as front = 14 or name = "my bike", below [table] lines',
        ) from None


def straight(text: str) -> str:
    """Return a text with the straight quotation marks that phones and word processors make round."""
    return text.translate(_QUOTES)


def mistyped(text: str) -> Mistyped | None:
    """Return the first line that is wrong in itself and how it would be right; None where no line is so mended."""
    for number, line in enumerate(text.splitlines(), 1):
        found = _LINE.fullmatch(line)
        if found is None or len(line) > _LONGEST or line.lstrip().startswith("#") or _is_toml(line):
            continue
        value, hash_, remark = found["value"].translate(_QUOTES).partition("#")
        value = value.strip()
        for attempt in (value, _DECIMAL_COMMA.sub(r"\1.\2", value), f'"{value.strip(chr(34) + chr(39))}"'):
            mended = f"{found['key']} = {attempt}"
            if value and _reads(mended):
                return Mistyped(number, line.strip(), f"{mended}  # {remark.strip()}" if hash_ else mended)
        return None
    return None


def _is_toml(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _reads(line: str) -> bool:
    return _is_toml(line) and all(_allowed(key, value) for key, value in tomllib.loads(line).items())


def _allowed(key: str, value: object) -> bool:
    """Whether a key of that name takes the value in any table; True of keys that no table has."""
    rules = [table[key] for table in RULES.values() if key in table]
    for rule in rules:
        try:
            rule(value)
        except ValueError:
            continue
        return True
    return not rules
