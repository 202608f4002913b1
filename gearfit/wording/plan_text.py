"""The plan of a test as plain text, and the sentences that card and terminal share."""

from __future__ import annotations

from typing import Final

from gearfit.prediction.planning.plan import GearPlan, Plan
from gearfit.prediction.planning.power import TOLD
from gearfit.records.words import number
from gearfit.units import SPEED_UNIT_LABELS, from_mps
from gearfit.wording.columns import bullets, paragraph, section, table

CAUTIONS: Final = (
    "Closed road or track for timed runs; everywhere legal speed. Leave out whatever would be too fast for road, traffic or "
    "weather. Local law comes before this plan.",
    "Eyes on the road, never on dash or display: let a passenger or a camera read, or stop and write.",
    "Same tyre, pressure (cold), load and rider in both setups; change one thing.",
    "Sprockets, chain and axle: torque, slack and alignment as the machine's manual says, by somebody licensed where the law "
    "asks for that.",
)

_LEGEND: Final = (
    "'Shows it' is the chance that the 95 % interval of that gear's change leaves out no change; 'smallest' the change that "
    f"shows with a chance of {100 * TOLD:.0f} %."
)


def plan_lines(plan: Plan, unit: str) -> list[str]:
    """Write the whole plan."""
    before, after = plan.setups
    lines = [f"{plan.name or 'This machine'}: test of {before}, then {after}"]
    lines += paragraph(
        f"Expected change of road speed at the same engine speed: {number(plan.change_percent, signed=True)} %. Noise "
        f"{plan.noise.known_from}."
    )
    return [
        *lines,
        *section("Hold, in each setup", _gear_table(plan, unit), paragraph(f"{how_to_hold(plan, unit)} {_LEGEND}")),
        *section("What that will show", bullets(will_show(plan, unit))),
        *section("Timed runs", bullets(starts_words(plan, unit))),
        *section("Still missing", bullets(plan.missing or (["Nothing: all is ridden."] if plan.ridden else []))),
        *section("Before you ride", bullets(CAUTIONS)),
    ]


def _gear_table(plan: Plan, unit: str) -> list[str]:
    label = SPEED_UNIT_LABELS[unit]
    head = ["gear", "hold rpm", f"{plan.setups[0]} {label}", f"{plan.setups[1]} {label}", "shows it %", "smallest %"]
    return table(head, [_gear_row(gear, unit) for gear in plan.gears])


def _gear_row(gear: GearPlan, unit: str) -> list[str]:
    return [
        str(gear.gear),
        span_words(gear.hold_rpm, 0),
        span_words([from_mps(speed, unit) for speed in gear.now_mps], 0),
        span_words([from_mps(speed, unit) for speed in gear.after_mps], 0),
        number(100 * gear.power, 0),
        number(gear.smallest_percent, 1),
    ]


def span_words(values: list[float] | tuple[float, ...], decimals: int) -> str:
    """Write the lowest and the highest of some values."""
    low, high = f"{min(values):.{decimals}f}", f"{max(values):.{decimals}f}"
    return low if low == high else f"{low}-{high}"


def how_to_hold(plan: Plan, unit: str) -> str:
    """Say how each pass is ridden."""
    fastest = f"{from_mps(plan.fastest_mps, unit):.0f} {SPEED_UNIT_LABELS[unit]}"
    step = "" if plan.passes < 2 else ", each at another of these engine speeds so that rounding does not repeat itself"
    return (
        f"{plan.passes} passes in each gear, half of them each way{step}; hold each for {plan.hold_s:.0f} s on the flat, "
        f"none above {fastest}."
    )


def will_show(plan: Plan, unit: str) -> list[str]:
    """Say which gears will be able to show the change, and which not."""
    told = [gear for gear in plan.gears if gear.told]
    untold = [gear for gear in plan.gears if not gear.told]
    means = _means(plan, unit)
    found = []
    for gear in untold:
        found.append(
            f"Gear {gear.gear} cannot be told apart from no change {means} at {span_words(gear.hold_rpm, 0)} rpm (chance "
            f"{100 * gear.power:.0f} %)."
        )
    if told:
        can = "can" if untold else f"can be told apart from no change {means}"
        found.append(f"{_gears([gear.gear for gear in told])} {can}.")
    if not told:
        found.append("No gear alone is as good as sure to show it; all gears together may, as the next line says.")
    half = plan.all_gears_half_width_percent
    found.append(
        f"All gears together will give the change to about ± {number(half, 2 if half < 1 else 1)} %"
        + (
            "."
            if abs(plan.change_percent) > 1.5 * half
            else ", which is not enough for a change this small: use a log with a finer speed, or a longer test."
        )
    )
    return found


def _means(plan: Plan, unit: str) -> str:
    if plan.noise.kind == "log":
        return "with a log"
    return f"with a {from_mps(plan.noise.step_mps, unit):g} {SPEED_UNIT_LABELS[unit]} display"


def _gears(gears: list[int]) -> str:
    runs: list[list[int]] = []
    for gear in gears:
        if runs and gear == runs[-1][1] + 1:
            runs[-1][1] = gear
        else:
            runs.append([gear, gear])
    parts = [str(low) if low == high else f"{low}-{high}" for low, high in runs]
    return ("Gear " if len(gears) == 1 else "Gears ") + ", ".join(parts)


def starts_words(plan: Plan, unit: str) -> list[str]:
    """Say how many timed runs to make and what they will show."""
    starts = plan.starts
    label = SPEED_UNIT_LABELS[unit]
    low, high = (f"{from_mps(speed, unit):.0f}" for speed in (starts.from_mps, starts.to_mps))
    share = abs(plan.change_percent) / 100 * starts.time_s
    kind = "standing starts" if starts.from_mps == 0 else "roll-ons in one gear"
    return [
        f"{starts.runs} {kind} from {low} to {high} {label} in each setup, half of them each way. They show a difference of "
        f"{starts.smallest_s:.2f} s or more (chance 80 %) if one takes {starts.time_s:.1f} s and they scatter by "
        f"{starts.run_sd_s:.2f} s ({starts.known_from}).",
        f"{number(abs(plan.change_percent), 1)} % of such a run is {share:.2f} s; through the gears less than that remains, "
        + ("so these runs may well show nothing." if share < 2 * starts.smallest_s else "enough of it to show."),
    ]
