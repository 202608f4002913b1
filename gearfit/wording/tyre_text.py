"""What a tyre's size says about its rolling circumference, and what it does not."""

from __future__ import annotations

from gearfit.machine.bike import Tyre
from gearfit.machine.tyre import tyre_size
from gearfit.prediction.basis import Gearing
from gearfit.wording.columns import bullets, table


def tyre_lines(now: Gearing, after: Gearing | None) -> list[str]:
    """Show both ends of the circumference of each size, and explain the spread; empty where no size is stated."""
    tyres = [now.tyre] if after is None or after.tyre == now.tyre else [now.tyre, after.tyre]
    sized = [tyre for tyre in tyres if tyre.size is not None]
    if not sized:
        return []
    head = ["size", "diameter mm", "paper circle mm", "expected mm", "car rule mm", "used mm"]
    return [*table(head, [_row(tyre, now, after) for tyre in sized]), *bullets(_explanations())]


def _row(tyre: Tyre, now: Gearing, after: Gearing | None) -> list[str]:
    size = tyre_size(tyre.size or "")
    used = now if after is None or tyre == now.tyre else after
    lengths_m = (
        size.overall_diameter_m,
        size.unloaded_circumference_m,
        size.rolling_circumference_m,
        size.loaded_circumference_m,
        used.circumference_m,
    )
    return [size.code, *("–" if length is None else f"{1000 * length:.0f}" for length in lengths_m)]


def _explanations() -> list[str]:
    return [
        "The paper circle is pi x diameter, as tables print it; under load a tyre rolls less. The car rule (UN GTR 15) "
        "is 3.05 x diameter; no rule for motorcycles is published, so the middle is expected, with a standard deviation "
        "of 2 % that covers both ends and the difference between makes.",
        "Wear: 6 mm of tread on a 640 mm wheel is 1.9 %. Pressure and load: some tenths of a per cent. Growth with speed: "
        "below 1 % at road speeds, more on cross-ply tyres (common practice, no source). A ride tells the circumference "
        "better than any table.",
    ]
