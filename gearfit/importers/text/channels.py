"""The channels of the sample table that logs and sheets share."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.cells import Numbers, read_numbers
from gearfit.importers.common.gear_words import MOST_GEARS, Gears, read_gears
from gearfit.importers.text.columns import Choice
from gearfit.records.recording import SpeedSource
from gearfit.records.schema import HEIGHTS_M, RPM_CEILING_RPM, SPEED_CEILING_MPS

Floats = NDArray[np.float64]

#: Lowest and highest value allowed in SI.
LIMITS = {
    "speed_mps": (0.0, SPEED_CEILING_MPS),
    "indicated_mps": (0.0, SPEED_CEILING_MPS),
    "engine_rpm": (0.0, RPM_CEILING_RPM),
    "stated_gear": (0.0, float(MOST_GEARS)),
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 360.0),
    "elevation_m": HEIGHTS_M,
}
#: Channels in which a column that is mostly unusable is an error.
NEEDED = ("speed_mps", "indicated_mps", "engine_rpm")


@dataclass(frozen=True, eq=False)
class Channels:
    """Channels read: numbers, whether only the speedometer shows speeds, and gears as written (None: no column)."""

    numbers: dict[str, Numbers]
    only_indicated: bool
    notes: tuple[str, ...]
    gears: Gears | None = None

    def values(self) -> dict[str, Floats]:
        """Values by channel."""
        return {channel: numbers.values for channel, numbers in self.numbers.items()}

    def step(self, channel: str) -> float | None:
        """Step of a channel as written, or None."""
        return self.numbers[channel].step if channel in self.numbers else None

    def source(self, otherwise: SpeedSource) -> SpeedSource:
        """Return where the speed comes from."""
        if self.only_indicated:
            return "speedometer"
        return otherwise if "speed_mps" in self.numbers else "none"


def read_channels(choice: Choice) -> Channels:
    """Read every channel of a log or sheet but the time; indicated speeds serve as speeds where there are no others."""
    table = choice.table
    numbers = {}
    gears = None
    notes = [*table.notes, *choice.notes]
    for channel, (lowest, highest) in LIMITS.items():
        if channel in choice:
            number, meaning = choice.chosen[channel]
            cells = table.cells[number]
            if channel == "stated_gear":
                gears = read_gears(cells)
                numbers[channel] = Numbers(gears.gear, 1.0, ())
                continue
            numbers[channel] = read_numbers(cells, table.lines, table.name, meaning, lowest, highest, channel in NEEDED)
            notes.extend(numbers[channel].notes)
    return replace(gathered(numbers, notes), gears=gears)


def gathered(numbers: dict[str, Numbers], notes: list[str]) -> Channels:
    """Put together what was read."""
    if "stated_gear" in numbers:
        numbers["stated_gear"] = _whole_gears(numbers["stated_gear"])
    only_indicated = "indicated_mps" in numbers and not (
        "speed_mps" in numbers and np.isfinite(numbers["speed_mps"].values).any()
    )
    if only_indicated:
        numbers["speed_mps"] = numbers["indicated_mps"]
        notes.append("The only speeds are those that the speedometer showed.")
    return Channels(numbers, only_indicated, tuple(notes))


def _whole_gears(gears: Numbers) -> Numbers:
    """Gear 0 of a log of numbers is neutral and a fraction is no gear: neither is a stated gear."""
    values = np.where((gears.values >= 1) & (gears.values == np.rint(gears.values)), gears.values, np.nan)
    return Numbers(values, gears.step, gears.notes)
