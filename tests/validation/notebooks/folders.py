"""One folder from its seed: files and truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.validation.notebooks.bikes import draw_bike
from tests.validation.notebooks.choices import Choices, draw_choices
from tests.validation.notebooks.papers import draw_papers
from tests.validation.notebooks.rides import Row, draw_instrument, ride, targets
from tests.validation.notebooks.slips import forget, slip
from tests.validation.notebooks.stopwatch import draw_timed
from tests.validation.notebooks.truth import Place, Truth, truth_of
from tests.validation.notebooks.writing import Hand, draw_hand, sheet


@dataclass(frozen=True)
class Case:
    """A folder to judge."""

    seed: int
    choices: Choices
    hand: Hand
    files: dict[str, bytes]
    truth: Truth

    @property
    def classes(self) -> dict[str, str]:
        """Headings under which the folder is counted."""
        return {**self.choices.classes, **self.hand.classes}

    def write(self, folder: Path) -> Path:
        """Write the files below a folder."""
        for name, content in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        return folder


def make(seed: int, draw: Callable[[np.random.Generator], Choices] = draw_choices) -> Case:
    """Make the folder of a seed, always the same."""
    rng = np.random.default_rng([20, seed])
    choices = draw(rng)
    bike = draw_bike(rng, choices.change)
    instrument = draw_instrument(rng, choices)
    plan = targets(rng, bike, choices)
    ridden = [ride(rng, bike, which, instrument, choices, plan) for which in (0, 1)]
    noted = slip(rng, forget(rng, ridden, choices), choices)
    papers = draw_papers(rng, bike, choices)
    exchanged = choices.sheets == "exchanged"
    rides = {"before": int(exchanged), "after": int(not exchanged)}
    flat = rng.random() < 0.15
    hand = draw_hand(rng, choices, some_gears=any(row.gear for rows in noted for row in rows))
    files: dict[str, bytes] = {}
    places: dict[Place, Row] = {}
    for name, which in rides.items():
        for file, content, lines in _sheets(rng, hand, noted[which], choices):
            path = f"{name}{rng.choice(['_', ' ']) if flat else '/'}{file}"
            files[path] = content
            places |= {(path, line): row for line, row in lines.items()}
    timed = None if choices.timed == "none" else draw_timed(rng, choices.timed == "copied rows")
    if timed is not None:
        for name, which in rides.items():
            files[f"{name}{'_' if flat else '/'}timed.csv"] = timed.sheets[which]
            if choices.timed == "copied file":
                files[f"{name}{'_' if flat else '/'}timed (1).csv"] = timed.sheets[which]
    if papers.text is not None:
        files["bike.toml"] = papers.text.encode()
    gain_s = None if timed is None else timed.difference_s * (-1 if exchanged else 1)
    return Case(seed, choices, hand, files, truth_of(bike, instrument, choices, papers, rides, places, gain_s))


def _sheets(
    rng: np.random.Generator, hand: Hand, rows: list[Row], choices: Choices
) -> list[tuple[str, bytes, dict[int, Row]]]:
    """One sheet, or two halves, or one with its copy."""
    if choices.sheets == "two files" and len(rows) > 1:
        half = len(rows) // 2
        return [
            (f"holds{k}.csv", *sheet(rng, hand, part, choices.speedometer))
            for k, part in enumerate((rows[:half], rows[half:]), 1)
        ]
    content, lines = sheet(rng, hand, rows, choices.speedometer)
    copy = [("holds (1).csv", content, lines)] if choices.sheets == "copied file" else []
    return [("holds.csv", content, lines), *copy]
