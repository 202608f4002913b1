"""What comes of a folder: a report, one of gearfit's errors in one line, or a fault."""

from __future__ import annotations

import json
import traceback
import warnings
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time
from typing import Any, Final
from unittest.mock import patch

import gearfit
from gearfit.findings.verdict import verdict
from gearfit.report.files import parts
from gearfit.report.files.parts import Made, Part

#: No folder of this size may take longer [s of processor], pictures included.
SECONDS: Final = 30.0
#: The longest line of an error [letters].
LONGEST: Final = 1000
_parts_of: Final = parts.parts_of


@dataclass(frozen=True)
class Outcome:
    """Exactly one of results, refusal and fault is filled."""

    results: dict[str, Any] = field(default_factory=dict)
    #: What the terminal says.
    lines: tuple[str, ...] = ()
    refusal: str = ""
    fault: str = ""


def outcome(folder: Path, pictures: bool = True, unit: str = "kmh") -> Outcome:
    """Read, analyse and report on a folder."""
    start = process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            analysis = gearfit.analyse(gearfit.read_folder(folder), speed_unit=unit)
            with nullcontext() if pictures else patch.object(parts, "parts_of", _without_pictures):
                written = gearfit.write_report(analysis, folder / "report")
            lines = verdict(analysis)
            text = written["results.json"].read_text("utf-8")
            results = json.loads(text, parse_constant=_no_number)
    except gearfit.GearfitError as error:
        if "\n" in str(error) or len(str(error)) > LONGEST:
            return Outcome(fault=f"message of more than one line: {str(error)[:200]!r}")
        return Outcome(refusal=str(error))
    except Exception as error:
        return Outcome(fault=f"{type(error).__name__}: {str(error)[:160]} ({_place(error)})")
    if not lines or any("\n" in line or "nan" in line.lower().split() for line in lines):
        return Outcome(fault=f"lines for the terminal: {lines!r}")
    if (taken := process_time() - start) > SECONDS:
        return Outcome(fault=f"took {taken:.0f} s")
    return Outcome(results, tuple(lines))


def _place(error: Exception) -> str:
    """Tell the last place in gearfit, and the last one of all."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if f"{Path(gearfit.__file__).parent}" in frame.filename]
    last = [*own[-1:], frames[-1]]
    return ", ".join(dict.fromkeys(f"{Path(frame.filename).name}:{frame.lineno}" for frame in last))


def _no_number(name: str) -> float:
    raise ValueError(f"results.json holds {name}")


def _without_pictures(sample_names: Sequence[str], shape: str) -> list[Part]:
    """Return the parts of a report, with nothing in those that are drawn."""
    return [step if step.label == "samples" else _nothing(step) for step in _parts_of(sample_names, shape)]


def _nothing(step: Part) -> Part:
    names: Sequence[str] = ("summary.png", "summary.svg") if step.label == "summary picture" else ()
    return Part(step.label, lambda _: Made(dict.fromkeys(names, b"")))
