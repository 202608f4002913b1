"""The prediction for a swap in ten lines: the answer, the wish, what it means at cruise, chain, speedometer, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from gearfit.prediction.swap import CruiseRpm, SwapPrediction
from gearfit.records.words import number, span_label
from gearfit.units import SPEED_UNIT_LABELS, from_mps
from gearfit.wording.chain_text import roughly
from gearfit.wording.columns import paragraph
from gearfit.wording.pairs_text import pairs_lines
from gearfit.wording.swap_text import change_words, title_lines

if TYPE_CHECKING:
    from gearfit.records.thrust_results import SwapOnPaper

_CAUTION: Final = (
    "Count the teeth on the machine. Its manual decides on torque, slack and what may be fitted, local law on the rest; "
    "first ride at legal speed or on a closed road, eyes off the dash."
)


def brief_lines(prediction: SwapPrediction, unit: str, swap: SwapOnPaper | None = None) -> list[str]:
    """Write the prediction in short; `unit` is "kmh" or "mph", `swap` the times from a ride."""
    wished = pairs_lines(prediction, unit, explained=False)
    return [
        *title_lines(prediction),
        *([*wished, ""] if wished else []),
        *(line for sentence in brief_sentences(prediction, unit, swap) for line in paragraph(sentence)),
        *paragraph(_CAUTION),
        "Gear by gear, tyre, chain and axle, climb: add --all.",
    ]


def brief_sentences(prediction: SwapPrediction, unit: str, swap: SwapOnPaper | None = None) -> list[str]:
    """Say what the swap does, each sentence whole: change, engine speed at cruise, chain, speedometer, times."""
    said = [
        change_words(prediction),
        *(_cruise(cruise, unit) for cruise in _cruises(prediction)),
        _top_gear(prediction, unit),
        _chain(prediction),
        _speedometer(prediction),
        _times(swap, unit),
    ]
    return [sentence for sentence in said if sentence]


def _cruises(prediction: SwapPrediction) -> tuple[CruiseRpm, ...]:
    """Return what the rider noted or, in the highest gear, a speed in the middle of the table."""
    if prediction.known is not None:
        return prediction.cruise
    highest = [line for line in prediction.cruise if line.gear == prediction.now.gears[-1]]
    return tuple(highest[len(highest) // 2 :][:1])


def _cruise(line: CruiseRpm, unit: str) -> str:
    speed = f"{number(from_mps(line.speed_mps, unit), 0)} {SPEED_UNIT_LABELS[unit]}"
    gear = "that gear" if line.gear is None else f"gear {line.gear}"
    becomes = "" if line.after_rpm is None else f" becomes {line.after_rpm:.0f}"
    return f"At {speed} in {gear}: {line.now_rpm:.0f}{becomes} rpm."


def _top_gear(prediction: SwapPrediction, unit: str) -> str:
    """Say what the highest gear does at one engine speed."""
    if prediction.gears:
        rpm, now_mps, after_mps = prediction.reference_rpm, prediction.gears[-1].now_mps, prediction.gears[-1].after_mps
        gear = f"in gear {prediction.gears[-1].gear}"
    elif prediction.known is not None and prediction.change_percent is not None:
        rpm, now_mps = prediction.known.rpm, prediction.known.speed_mps
        after_mps, gear = now_mps * (1 + prediction.change_percent / 100), "in that gear"
    else:
        return ""
    becomes = "" if after_mps is None else f" becomes {number(from_mps(after_mps, unit), 1)}"
    return f"At {rpm:.0f} rpm {gear}: {number(from_mps(now_mps, unit), 1)}{becomes} {SPEED_UNIT_LABELS[unit]}."


def _chain(prediction: SwapPrediction) -> str:
    after, fit = prediction.after, prediction.chain
    if after is None or after.pair == prediction.now.pair or after.final_drive.kind != "chain":
        return ""
    if prediction.chain_problem:
        return f"Chain: this one cannot go on: {prediction.chain_problem}."
    if fit is None:
        return f"Chain: {_small(roughly(prediction.now.pair, after.pair))}"
    movement_mm = 1000 * fit.axle_movement_m
    moved = f"the axle moves {abs(movement_mm):.1f} mm {'backwards' if movement_mm > 0 else 'forwards'}"
    if fit.reaches is None:
        return f"Chain: {moved}; whether the adjuster reaches needs adjuster_mm and axle_at_mm in bike.toml."
    if fit.reaches:
        return f"Chain: the same one goes on; {moved}, within the adjuster."
    if fit.links_to_add is None:
        return f"Chain: {moved}, beyond the adjuster, and no even number of links helps; choose another pair."
    verb = "add" if fit.links_to_add > 0 else "remove"
    return f"Chain: {moved}, beyond the adjuster; {verb} {abs(fit.links_to_add)} links."


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


def _speedometer(prediction: SwapPrediction) -> str:
    """Say what the dash will do, for the stated pick-up or for each that feels the change."""
    effects = prediction.instruments
    if not effects:
        return ""
    felt = [effect for effect in effects if effect.reading_percent]
    if not felt:
        return "Speedometer: reads as before."
    said = ", ".join(
        f"{number(effect.reading_percent, 1, signed=True)} % if driven from the {effect.driven_from}" for effect in felt
    )
    return f"Speedometer: reads {said}{'' if len(felt) == len(effects) else ', as before elsewhere'}."


def _times(swap: SwapOnPaper | None, unit: str) -> str:
    """Say what the times do, with their intervals; "" without a ride that tells."""
    if swap is None:
        return ""
    said = [
        f"{span_label(span.from_mps, span.to_mps, unit)} {number(found.value, signed=True)} s "
        f"({number(found.lo95, signed=True)} to {number(found.hi95, signed=True)})"
        for span in swap.spans
        if (found := span.difference_s) is not None
    ]
    return (
        f"Change of times, predicted from the hardest riding seen: {'; '.join(said)}. Closed road or track only."
        if said
        else ""
    )
