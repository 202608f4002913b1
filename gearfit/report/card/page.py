"""The test card: one page to print, with empty boxes."""

from __future__ import annotations

from importlib import resources

import jinja2

from gearfit.prediction.planning.plan import GearPlan, Plan
from gearfit.records.words import number
from gearfit.units import SPEED_UNIT_LABELS, from_mps
from gearfit.version import __version__
from gearfit.wording.plan_text import CAUTIONS, how_to_hold, span_words, starts_words, will_show


def card_text(plan: Plan, unit: str, setup: str) -> str:
    """Return the page for one setup.

    Parameters
    ----------
    plan : Plan
        What to ride.
    unit : {"kmh", "mph"}
        Of every speed on the page.
    setup : str
        Which of the plan's setups it is for.

    Returns
    -------
    str
        HTML in UTF-8, style inside, nothing loaded.
    """
    folder = resources.files("gearfit.report.card")
    environment = jinja2.Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    template = environment.from_string(folder.joinpath("card.html.j2").read_text(encoding="utf-8"))
    changed = setup == plan.setups[1]
    return template.render(
        css=folder.joinpath("card.css").read_text(encoding="utf-8"),
        bike=plan.name or "Motorcycle without a name",
        setup=setup,
        change=number(plan.change_percent, signed=True),
        unit=SPEED_UNIT_LABELS[unit],
        reads=plan.noise.kind == "display",
        passes=range(plan.passes),
        ways=("→", "←"),
        rows=[_row(gear, unit, changed) for gear in plan.gears],
        how=how_to_hold(plan, unit),
        shows=will_show(plan, unit),
        starts=starts_words(plan, unit),
        runs=range(plan.starts.runs),
        cautions=CAUTIONS,
        version=__version__,
    )


def _row(gear: GearPlan, unit: str, changed: bool) -> dict[str, object]:
    speeds = gear.after_mps if changed else gear.now_mps
    return {
        "gear": gear.gear,
        "rpm": [f"{rpm:.0f}" for rpm in gear.hold_rpm],
        "speed": span_words([from_mps(speed, unit) for speed in speeds], 0),
        "shows": number(100 * gear.power, 0),
    }
