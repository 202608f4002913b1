"""bike.toml as the person fills it in: complete, in part, not at all, or with one wrong entry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.validation.notebooks.bikes import Bike, Teeth, changed
from tests.validation.notebooks.choices import MISSTATED, Choices


@dataclass(frozen=True)
class Papers:
    """What the person states; None where nothing."""

    sprockets: tuple[Teeth, Teeth] | None
    #: Overall ratio that the papers give, over the true one, in each gear of the papers; None where they give none.
    wrong_by: tuple[float, ...] | None
    text: str | None


def draw_papers(rng: np.random.Generator, bike: Bike, choices: Choices) -> Papers:
    """Write bike.toml for a bike."""
    kind = choices.papers
    if kind == "absent":
        return Papers(None, None, None)
    primary, gears = f'"{bike.primary[0]}/{bike.primary[1]}"', [f'"{a}/{b}"' for a, b in bike.gears]
    wrong = np.ones(len(gears))
    sprockets: tuple[Teeth, Teeth] | None = bike.sprockets
    if kind == "a gear mistyped":
        gear = int(rng.integers(len(gears)))
        driven, driving = bike.gears[gear]
        typed = driven + int(rng.choice([-1, 1]))
        gears[gear] = f'"{typed}/{driving}"'
        wrong[gear] = typed / driven
    elif kind == "primary in the gears":
        ratio = bike.primary[0] / bike.primary[1]
        gears = [f"{a / b * ratio:.3f}" for a, b in bike.gears]
        wrong *= ratio
    elif kind == "wrong primary":
        other = bike.primary[0] + int(rng.choice([-8, -5, 5, 8]))
        primary = f'"{other}/{bike.primary[1]}"'
        wrong *= other / bike.primary[0]
    elif kind == "a gear missing":
        gone = int(rng.integers(len(gears)))
        del gears[gone]
        overall = bike.overall(0)
        wrong = np.delete(overall, gone) / overall[:-1]
    elif kind == "other sprockets":
        sprockets = (bike.sprockets[0], changed(rng, bike.sprockets[1], str(rng.choice(["front", "rear"]))))
    lines = ['name = "Invented bike"']
    if kind in ("complete", "gearbox", *MISSTATED):
        lines += ["[gearbox]", f"primary = {primary}", f"gears = [{', '.join(gears)}]"]
    if kind == "gearbox":
        sprockets = None
    if kind in ("complete", *MISSTATED):
        lines += ["[tyre]", f'size = "{bike.tyre}"', *_speedometer(rng, choices)]
    if sprockets is not None:
        for name, (front, rear) in zip(("before", "after"), sprockets, strict=True):
            lines += [f"[setups.{name}]", f"front = {front}", f"rear = {rear}"]
    known = sprockets is not None and kind != "teeth"
    return Papers(sprockets, tuple(wrong) if known else None, "\n".join(lines) + "\n")


def _speedometer(rng: np.random.Generator, choices: Choices) -> list[str]:
    """State the pick-up rightly, as unknown, or not at all."""
    said = rng.choice(["right", "unknown", ""])
    if not choices.speedometer or not said:
        return []
    right = "gearbox output" if choices.speeds.endswith("the gearbox") else "front wheel"
    return ["[speedometer]", f'driven_from = "{right if said == "right" else "unknown"}"']
