"""What is true of a folder, so that whatever a report prints can be judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tests.validation.notebooks.bikes import Bike, Teeth
from tests.validation.notebooks.choices import Choices
from tests.validation.notebooks.papers import Papers
from tests.validation.notebooks.rides import Instrument, Row, shown_per_1000rpm_mps

#: File relative to the ride folder, and line in it.
Place: TypeAlias = tuple[str, int]


@dataclass(frozen=True)
class Truth:
    """The truth behind one folder; setups by name, as the files lie (exchanged, where the person exchanged them)."""

    #: Change of the true road speed at the same engine speed [%], tyre of each day included.
    change_percent: float
    #: The same from the tooth counts of the sprockets that were fitted [%].
    teeth_change_percent: float
    #: What bike.toml leads one to expect [%]; None where it does not say.
    stated_change_percent: float | None
    #: Circumference as the tachometer's scale makes of it: what right teeth and a receiver show.
    apparent_m: dict[str, float]
    #: The same with the teeth that bike.toml states.
    implied_m: dict[str, float]
    #: Noted speed at 1000 rev/min noted, by gear.
    per_1000rpm_mps: dict[str, dict[int, float]]
    rows: dict[Place, Row]
    #: Setups in which every row that counts has its gear noted.
    noted: dict[str, bool]
    gearbox_pick_up: bool
    speedometer: bool
    #: Whether bike.toml is wrong about gearbox, primary drive or the sprockets of this ride.
    misstated: bool
    #: Whether bike.toml states the gearbox, from which gears can be told.
    gears_known: bool
    timed_difference_s: float | None

    @property
    def slips(self) -> dict[Place, Row]:
        """Rows that were misread."""
        return {place: row for place, row in self.rows.items() if row.slip}


def truth_of(
    bike: Bike,
    instrument: Instrument,
    choices: Choices,
    papers: Papers,
    rides: dict[str, int],
    rows: dict[Place, Row],
    timed_difference_s: float | None,
) -> Truth:
    """Gather what is true; `rides` tells which ride (0 before the work, 1 after) lies under which setup's name."""
    before, after = rides["before"], rides["after"]
    apparent = {name: bike.circumference_m[ride] / bike.tacho for name, ride in rides.items()}
    road = [bike.speed_per_1000rpm_mps(ride)[0] for ride in (before, after)]
    by_name = {name: [row for (file, _), row in rows.items() if file.startswith(name)] for name in rides}
    return Truth(
        change_percent=float(100 * (road[1] / road[0] - 1)),
        teeth_change_percent=_change_percent(bike.sprockets[before], bike.sprockets[after]),
        stated_change_percent=None if papers.sprockets is None else _change_percent(*papers.sprockets),
        apparent_m=apparent,
        implied_m={name: apparent[name] * _wrong_by(bike, papers, name, ride) for name, ride in rides.items()},
        per_1000rpm_mps={
            name: dict(enumerate(shown_per_1000rpm_mps(bike, ride, instrument).tolist(), 1))
            for name, ride in rides.items()
        },
        rows=rows,
        noted={name: all(row.gear is not None for row in some) for name, some in by_name.items()},
        gearbox_pick_up=instrument.from_gearbox,
        speedometer=choices.speedometer,
        misstated=choices.papers.startswith(("a gear", "primary", "wrong", "other")) or choices.sheets == "exchanged",
        gears_known=choices.papers in ("complete", "gearbox"),
        timed_difference_s=timed_difference_s,
    )


def _wrong_by(bike: Bike, papers: Papers, name: str, ride: int) -> float:
    """Overall ratio stated for a setup over the true one, in the middle gear of those stated."""
    if papers.wrong_by is None or papers.sprockets is None:
        return 1.0
    front, rear = papers.sprockets[0 if name == "before" else 1]
    fitted = bike.sprockets[ride]
    return float(np.median(papers.wrong_by)) * (rear / front) / (fitted[1] / fitted[0])


def _change_percent(one: Teeth, other: Teeth) -> float:
    return 100 * ((other[0] / other[1]) / (one[0] / one[1]) - 1)
