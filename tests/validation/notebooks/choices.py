"""What one person does: how they ride, read and write, what they forget and what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

#: Each habit with the share of people who have it (percent); drawn one by one, so that any two can meet.
SHARES: Final[dict[str, dict[str, float]]] = {
    "change": {"front": 45, "rear": 35, "both": 10, "none": 10},
    "speeds": {"satellite": 62, "speedometer on a wheel": 20, "speedometer on the gearbox": 13, "both": 5},
    "held": {"same rpm": 50, "one rpm a gear": 20, "same speed": 30},
    "read_to": {"1": 70, "5": 15, "half": 15},
    "cut": {"rounded": 78, "cut": 22},
    "papers": {
        "complete": 45,
        "teeth": 15,
        "gearbox": 8,
        "absent": 14,
        "a gear mistyped": 4,
        "primary in the gears": 3,
        "wrong primary": 4,
        "a gear missing": 3,
        "other sprockets": 4,
    },
    "sheets": {"one": 68, "two files": 12, "copied file": 12, "exchanged": 8},
    "gears": {"noted": 70, "none": 9, "none in one setup": 6, "half": 8, "one not ridden": 7},
    "ridden": {"all": 75, "upper": 25},
    "slip": {"none": 60, "speed off": 10, "digits swapped": 9, "wrong gear": 10, "rpm 1000 off": 11},
    "timed": {"none": 45, "once": 43, "copied file": 6, "copied rows": 6},
}
MISSTATED: Final = ("a gear mistyped", "primary in the gears", "wrong primary", "a gear missing", "other sprockets")


@dataclass(frozen=True)
class Choices:
    """One person's habits; the texts are those of `SHARES`."""

    change: str
    speeds: str
    held: str
    read_to: str
    cut: str
    papers: str
    sheets: str
    gears: str
    ridden: str
    slip: str
    timed: str
    mph: bool
    #: Scatter of the engine speed or road speed that the person holds, relative.
    scatter: float
    readings: int
    rpm_step: int
    #: Whether the sheet is written plainly: numbers alone in the cells, the unit in the header.
    neat: bool

    @property
    def speedometer(self) -> bool:
        """Whether the noted speeds are the speedometer's."""
        return self.speeds.startswith("speedometer")

    @property
    def classes(self) -> dict[str, str]:
        """Headings under which the folder is counted."""
        named = {name: getattr(self, name) for name in SHARES}
        return named | {
            "scatter": "below 0.7 %" if self.scatter < 0.007 else "0.7 to 1.3 %" if self.scatter < 0.013 else "above",
            "readings": {1: "1", 2: "2", 3: "3"}.get(self.readings, "4 to 6"),
        }


def draw_choices(rng: np.random.Generator) -> Choices:
    """Draw a person."""
    one = {name: str(rng.choice(list(shares), p=_normed(shares))) for name, shares in SHARES.items()}
    if one["slip"] == "wrong gear" and one["gears"] == "none":
        one["slip"] = "none"
    return Choices(
        **one,
        mph=bool(rng.random() < 0.5),
        scatter=float(rng.choice([0.003, 0.005, 0.0075, 0.01, 0.015, 0.02])),
        readings=int(rng.integers(1, 7)),
        rpm_step=int(rng.choice([50, 100, 250], p=[0.3, 0.5, 0.2])),
        neat=False,
    )


def plain_choices(rng: np.random.Generator, scatter: float, readings: int, teeth: bool) -> Choices:
    """Draw a person without any fault, who notes gears and satellite speeds to one unit."""
    plain = {name: next(iter(shares)) for name, shares in SHARES.items()}
    plain |= {
        "change": str(rng.choice(["front", "rear"])),
        "papers": "complete" if teeth else "absent",
        "timed": "none",
    }
    mph = bool(rng.random() < 0.5)
    return Choices(**plain, mph=mph, scatter=scatter, readings=readings, rpm_step=100, neat=True)


def _normed(shares: dict[str, float]) -> np.ndarray:
    weights = np.array(list(shares.values()))
    return np.asarray(weights / weights.sum())
