"""Small invented ride folders of sheets, written and analysed on the spot."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

import gearfit
from gearfit.records.results import Analysis, Finding

Analyse = Callable[..., Analysis]

#: An invented machine.
GEARS = (2.6, 1.9, 1.5, 1.25, 1.08, 0.98)
PRIMARY = 2.5
REAR = 43
BIKE = f"""
[gearbox]
primary = {PRIMARY}
gears = {list(GEARS)}
[final_drive]
rear = {REAR}
[tyre]
rolling_circumference_mm = 2000
"""
SETUPS = "[setups.before]\nfront = 16\n[setups.after]\nfront = 15\n"


def speeds_kmh(front: int, *, circumference_m: float = 2.0, rpm: float = 5000) -> list[float]:
    """What a receiver shows in each gear, to 0.1 km/h: v = n C / (60 i)."""
    return [round(rpm * circumference_m / 60 / (PRIMARY * gear * REAR / front) * 3.6, 1) for gear in GEARS]


def sheet(speeds: Sequence[float], *, rpm: float = 5000, speed: str = "speed_kmh") -> str:
    rows = "".join(f"{gear},{rpm:g},{value:g}\n" for gear, value in enumerate(speeds, 1))
    return f"gear,rpm,{speed}\n{rows}"


@pytest.fixture
def analyse(tmp_path: Path) -> Analyse:
    """Write files and analyse their folder."""

    def analyse(files: Mapping[str, str], unit: str = "kmh") -> Analysis:
        for name, text in files.items():
            path = tmp_path / name
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return gearfit.analyse(gearfit.read_folder(tmp_path), unit)

    return analyse


def codes(analysis: Analysis) -> list[str]:
    return [finding.code for finding in analysis.findings]


def only(analysis: Analysis, code: str) -> Finding:
    (finding,) = (finding for finding in analysis.findings if finding.code == code)
    return finding


def without_intervals(text: str) -> str:
    """Return a text without the ends of its intervals, which other tests check."""
    return re.sub(r"\(95 % interval [^)]*\)", "(...)", text)
