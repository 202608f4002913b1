"""The prediction for a swap as plain text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from gearfit.prediction.basis import FROM_RIDE, FROM_TEETH, Gearing
from gearfit.prediction.instruments import InstrumentEffect
from gearfit.prediction.swap import CruiseRpm, GearSpeeds, SwapPrediction
from gearfit.records.words import NOTHING, number
from gearfit.units import from_mps
from gearfit.wording.chain_text import chain_lines
from gearfit.wording.climb_text import climb_lines
from gearfit.wording.columns import bullets, paragraph, section, table
from gearfit.wording.pairs_text import pairs_lines
from gearfit.wording.ride_swap_text import ride_swap_lines
from gearfit.wording.tyre_text import tyre_lines

if TYPE_CHECKING:
    from gearfit.records.thrust_results import SwapOnPaper

CAUTIONS: Final = (
    "Figures on paper. The machine's manual decides on torque, slack, alignment and what may be fitted at all; licensed "
    "practice and local law (type approval, noise, insurance, speedometer) come first.",
    "Ride it for the first time on a closed road or at legal speed, eyes on the road and not on the dash.",
    "Count the teeth on the sprockets that are on the machine: the papers of a used bike may be wrong.",
)


def prediction_lines(prediction: SwapPrediction, unit: str, swap: SwapOnPaper | None = None) -> list[str]:
    """Write the whole prediction, with what a ride adds (`swap`); `unit` is "kmh" or "mph" and comes first where both are shown."""
    speeds = _gear_table(prediction, unit) if prediction.gears else []
    return [
        *title_lines(prediction),
        *paragraph(_basis(prediction.now)),
        *paragraph(change_words(prediction)),
        *pairs_lines(prediction, unit),
        *section(f"Speed at {prediction.reference_rpm:.0f} rpm", speeds),
        *section("Top speed at the limit", _limit_table(prediction, unit)),
        *section("Engine speed at cruise", _cruise_table(prediction, unit)),
        *section("Speedometer and odometer", _instrument_lines(prediction.instruments)),
        *section("Tyre", tyre_lines(prediction.now, prediction.after)),
        *section("Chain and axle", chain_lines(prediction)),
        *section("Climb and lift", climb_lines(prediction)),
        *section("Times from the ride", ride_swap_lines(swap, unit)),
        *section("Before you touch it", bullets(CAUTIONS)),
    ]


def fitted(gearing: Gearing) -> str:
    """Write the teeth and the tyre of a gearing."""
    teeth = f"{gearing.pair[0]}/{gearing.pair[1]}" if gearing.pair else "sprockets not stated"
    return f"{teeth}, {gearing.tyre.size}" if gearing.tyre.size else teeth


def title_lines(prediction: SwapPrediction) -> list[str]:
    """Name the machine and what is fitted now and after."""
    name, now, after = prediction.name or "This machine", prediction.now, prediction.after
    if after is None or prediction.change_percent is None:
        return [f"{name}: {fitted(now)}"]
    return [f"{name}: {fitted(now)} now, {fitted(after)} after"]


def change_words(prediction: SwapPrediction) -> str:
    """Say by what percentage speed and thrust change; "" without a change."""
    if prediction.change_percent is None:
        return ""
    return (
        f"At the same engine speed road speed changes by {number(prediction.change_percent, signed=True)} % in every "
        f"gear (the same factor, never the same number), thrust at the wheel by "
        f"{number(prediction.thrust_percent, signed=True)} %; at the same road speed engine speed is multiplied by "
        f"{number(1 / (1 + prediction.change_percent / 100), 3)}."
    )


def _basis(now: Gearing) -> str:
    if not now.gears:
        return "Speeds in each gear need the gearbox, primary drive and tyre as well; the change needs the teeth alone."
    spread = number(200 * now.relative_sd, 1)
    ridden = [gear for gear, origin in zip(now.gears, now.known_from, strict=True) if origin == FROM_RIDE]
    if not ridden:
        return (
            f"Speeds rest on the tooth counts and a rolling circumference of {number(now.circumference_m, 3)} m "
            f"({now.circumference_from}); they are good to about {spread} %, all alike."
        )
    filled = [str(gear) for gear, origin in zip(now.gears, now.known_from, strict=True) if origin == FROM_TEETH]
    several = f"gears {', '.join(filled)} were not ridden and rest on their teeth"
    rest = (
        f"; {several if len(filled) > 1 else f'gear {filled[0]} was not ridden and rests on its teeth'}"
        if filled
        else ""
    )
    circumference = ""
    if now.circumference_m is not None:
        circumference = f" Rolling circumference {number(now.circumference_m, 3)} m, {now.circumference_from}."
    shown = {
        "speedometer": " They are what the speedometer showed, with its error.",
        "machine": " They are the machine's own speeds, with their error.",
    }.get(now.speed_source, "")
    return f"Speeds rest on the ride, fitted gear by gear, good to about {spread} %{rest}.{shown}{circumference}"


def both_units(speed_mps: float | None, unit: str) -> list[str]:
    """Write a speed in both units, `unit` first."""
    other = "mph" if unit == "kmh" else "kmh"
    return [NOTHING if speed_mps is None else f"{from_mps(speed_mps, u):.1f}" for u in (unit, other)]


def unit_heads(unit: str) -> list[str]:
    """Write the heads of the two columns that `both_units` fills."""
    return ["km/h", "mph"] if unit == "kmh" else ["mph", "km/h"]


def _gear_table(prediction: SwapPrediction, unit: str) -> list[str]:
    heads = [f"now {name}" for name in unit_heads(unit)]
    if prediction.after is not None:
        heads += [f"after {name}" for name in unit_heads(unit)]
    rows = [_gear_row(gear, unit, prediction.after is not None) for gear in prediction.gears]
    return table(["gear", *heads, "step to next"], rows)


def _gear_row(gear: GearSpeeds, unit: str, changed: bool) -> list[str]:
    after = both_units(gear.after_mps, unit) if changed else []
    return [str(gear.gear), *both_units(gear.now_mps, unit), *after, number(gear.step_to_next, 3)]


def _limit_table(prediction: SwapPrediction, unit: str) -> list[str]:
    if prediction.limit_rpm is None or not prediction.gears:
        return []
    heads = [f"now {name}" for name in unit_heads(unit)]
    changed = prediction.after is not None
    heads += [f"after {name}" for name in unit_heads(unit)] if changed else []
    rows = [
        [
            str(gear.gear),
            *both_units(gear.limit_now_mps, unit),
            *(both_units(gear.limit_after_mps, unit) if changed else []),
        ]
        for gear in prediction.gears
    ]
    said = f"At {prediction.limit_rpm:.0f} rpm, if the engine has the power to get there; on a closed track alone."
    return [*table(["gear", *heads], rows), *paragraph(said)]


def _cruise_table(prediction: SwapPrediction, unit: str) -> list[str]:
    if not prediction.cruise:
        return []
    changed = prediction.after is not None
    rows = [_cruise_row(line, unit, changed) for line in prediction.cruise]
    return table([*unit_heads(unit), "gear", "now rpm", *(["after rpm"] if changed else [])], rows)


def _cruise_row(line: CruiseRpm, unit: str, changed: bool) -> list[str]:
    after = [number(line.after_rpm, 0)] if changed else []
    gear = "as noted" if line.gear is None else str(line.gear)
    return [*both_units(line.speed_mps, unit), gear, number(line.now_rpm, 0), *after]


def _instrument_lines(effects: tuple[InstrumentEffect, ...]) -> list[str]:
    said = []
    for effect in effects:
        if effect.reading_percent == 0:
            said.append(f"Driven from the {effect.driven_from}: reads and counts as before.")
            continue
        moved = f"{number(effect.reading_percent, 1, signed=True)} %"
        law = (
            " It may then show less than the true speed, which UN Regulation No. 39 does not allow: have it corrected."
            if effect.reading_percent < 0
            else " Speeds are then shown too high and distances too long by that much."
        )
        said.append(f"Driven from the {effect.driven_from}: reading and distance change by {moved}.{law}")
    return bullets(said)
