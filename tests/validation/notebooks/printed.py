"""What gearfit says of a folder: results, headline, rows used, or the line with which it refuses."""

from __future__ import annotations

import json
import signal
import tempfile
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any, Final

import pandas as pd

import gearfit
from gearfit.findings.verdict import verdict
from gearfit.report.files.results_json import results_text
from tests.validation.notebooks.folders import Case

#: Nobody waits longer for a page of notes; beyond this it counts as a crash [s].
PATIENCE_S: Final = 30


@dataclass(frozen=True)
class Printed:
    """What came out; exactly one of results, refusal and crash is filled."""

    #: results.json, as a program reads it.
    results: dict[str, Any] = field(default_factory=dict)
    #: The lines on the terminal.
    headline: str = ""
    #: Every sample with the reason why it was left out.
    samples: pd.DataFrame = field(default_factory=pd.DataFrame)
    refusal: str = ""
    crash: str = ""
    #: Python warnings, which a rider would see on the terminal.
    noise: tuple[str, ...] = ()

    @property
    def findings(self) -> list[dict[str, str]]:
        """The sentences of the report."""
        return list(self.results.get("findings", []))


def printed(case: Case, whole: bool = False) -> Printed:
    """Run gearfit on a folder: analysis and results.json alone, or the `whole` report with its pictures."""
    with tempfile.TemporaryDirectory() as where:
        return report_on(case.write(Path(where)), case.choices.mph, whole)


def report_on(folder: Path, mph: bool, whole: bool) -> Printed:
    """Run gearfit on a folder on disk."""
    try:
        with warnings.catch_warnings(record=True) as caught, _patience():
            warnings.simplefilter("always")
            analysis = gearfit.analyse(gearfit.read_folder(folder), speed_unit="mph" if mph else "kmh")
            if whole:
                gearfit.write_report(analysis, folder / "report")
            results = json.loads(results_text(analysis))
            noise = tuple(f"{w.message} ({Path(w.filename).name}, line {w.lineno})" for w in caught)
            return Printed(results, "\n".join(verdict(analysis)), analysis.samples_frame(), noise=noise)
    except gearfit.GearfitError as error:
        return Printed(refusal=str(error))
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        return Printed(crash=f"{type(error).__name__}: {error} ({Path(last.filename).name}, line {last.lineno})")


@contextmanager
def _patience() -> Iterator[None]:
    """End what takes too long, where the system has alarms."""

    def give_up(number: int, frame: FrameType | None) -> None:
        raise TimeoutError(f"no answer within {PATIENCE_S} s")

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(PATIENCE_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
