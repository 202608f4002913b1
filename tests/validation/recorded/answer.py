"""What gearfit says of a folder."""

from __future__ import annotations

import json
import signal
import traceback
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any, Final

import gearfit
from gearfit.report.files.results_json import results_text

#: Nobody waits longer; beyond this it counts as a crash, s.
PATIENCE_S: Final = 240


@dataclass(frozen=True)
class Answer:
    """Exactly one of results, refusal and crash is filled."""

    results: dict[str, Any] = field(default_factory=dict)
    refusal: str = ""
    crash: str = ""

    def codes(self, severity: str = "warning") -> set[str]:
        """Short names of the findings of a severity."""
        return {f["code"] for f in self.results.get("findings", []) if f["severity"] == severity}

    def texts(self, codes: frozenset[str], setup: str = "") -> list[str]:
        """Sentences of the warnings with one of these names that begin with a setup's name."""
        return [
            f["text"]
            for f in self.results.get("findings", [])
            if f["severity"] == "warning" and f["code"] in codes and f["text"].startswith(setup)
        ]


def answer(folder: Path) -> Answer:
    """Run the analysis on a folder and read its results.json."""
    before = signal.signal(signal.SIGALRM, _give_up)
    signal.alarm(PATIENCE_S)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return Answer(json.loads(results_text(gearfit.analyse(gearfit.read_folder(folder)))))
    except gearfit.GearfitError as error:
        return Answer(refusal=str(error))
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        return Answer(crash=f"{type(error).__name__}: {error} ({Path(last.filename).name}, line {last.lineno})")
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def _give_up(number: int, frame: FrameType | None) -> None:
    raise TimeoutError(f"no answer within {PATIENCE_S} s")
