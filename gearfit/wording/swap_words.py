"""What a swap on paper rests on and does not reach, in words for findings and terminal alike."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from gearfit.records.words import count, number, span_label

if TYPE_CHECKING:
    from gearfit.records.thrust_results import HardestRiding, SwapOnPaper

#: Chance of a first gear held back that is worth a word, and from which it is taken for sure.
_WORTH_A_WORD: Final = 0.05
_SURE: Final = 0.95


def hardest(swap: SwapOnPaper) -> str:
    """Say which riding the times are of: no log holds the throttle."""
    return (
        f"Times are of the hardest riding seen ({count(swap.stretches, 'stretch', 'stretches')} that repeat closely, "
        f"{number(swap.mass_kg, 0)} kg {'stated' if swap.mass_stated else 'assumed'}), on the level: with more throttle "
        "than that both are shorter, and the difference holds roughly"
    )


def shifting(swap: SwapOnPaper) -> str:
    """Say how the rider of a swap on paper changes up; "" where that is assumed (see `assumed`)."""
    if swap.shift_runs == 0:
        return ""
    as_in = "as ridden" if swap.shift_runs > 1 else "as in the one run"
    return f"shifting at {number(swap.used_shift_rpm, 0)} rpm in {number(swap.used_shift_s)} s {as_in}"


def assumed(swap: SwapOnPaper) -> str:
    """Say what a swap on paper takes for granted that the ride does not show; "" where there is nothing."""
    parts = []
    if swap.shift_runs == 0:
        share = number(100 * swap.used_shift_rpm / swap.limit_rpm, 0)
        parts.append(
            f"shifts at {number(swap.used_shift_rpm, 0)} rpm ({share} % of the limit) in {number(swap.used_shift_s)} s"
        )
    if swap.drag_from == "assumed":
        parts.append("the usual drag of a machine of this mass, for nobody coasted in neutral")
    return f"Assumed: {'; '.join(parts)}." if parts else ""


def unreached(swap: SwapOnPaper, unit: str) -> str:
    """Name the spans that are not reached on paper; "" where all are, or no start was seen."""
    spans = [span_label(span.from_mps, span.to_mps, unit) for span in swap.spans if span.difference_s is None]
    return f"Not reached on paper: {', '.join(dict.fromkeys(spans))}." if spans and swap.starts else ""


def held_back(swap: SwapOnPaper) -> str:
    """Say whether first gear was held back; "" where it surely was not."""
    if swap.held_back_chance < _WORTH_A_WORD:
        return ""
    if swap.held_back_chance > _SURE:
        return (
            "First gear pulled less than the engine could give: grip, a light front wheel or a careful hand. It is "
            "taken to pull no harder with the other gearing."
        )
    return (
        "The ride does not tell whether something held first gear back (grip, a light front wheel, a careful hand; "
        f"{number(100 * swap.held_back_chance, 0)} % likely), so that it would pull no harder with the other gearing: "
        "the intervals allow for both."
    )


def short_of(riding: HardestRiding) -> str:
    """Say why the hardest riding of a ride is not taken for full throttle, and what to do."""
    seen = f"the hardest riding seen ({count(riding.stretches, 'stretch', 'stretches')})"
    if riding.limit_rpm is None:
        return (
            f"how near {seen} is to full throttle cannot be said without the engine's limit; state limit_rpm under "
            "[engine] in bike.toml"
        )
    if riding.gears < 2:
        return f"{seen} is in one gear alone; ride hard in two gears or more"
    if not riding.reaches:
        share = number(100 * riding.reached_rpm / riding.limit_rpm, 0)
        return (
            f"{seen} reaches {number(riding.reached_rpm, 0)} rpm in two gears, {share} % of the limit, so what the "
            "engine can do is not known; on a closed road or track, rev to 85 % of the limit or more"
        )
    return (
        f"{seen} is not seen to be full throttle, for its thrust does not repeat often and closely enough; on a closed "
        "road or track, ride several starts with the throttle against its stop"
    )
