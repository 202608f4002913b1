"""Thrust at the wheel in each gear, both gearings, with the resistance on the level."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, Comparison, SwapOnPaper
from gearfit.records.thrust_results import Gearing
from gearfit.records.words import TIE, number, ordinal, speed_label
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, panels
from gearfit.report.figures.style import drawable, in_our_style
from gearfit.units import from_mps


def swaps(analysis: Analysis) -> list[tuple[Comparison, SwapOnPaper]]:
    """Return the comparisons that have a swap on paper."""
    return [(comparison, comparison.swap) for comparison in analysis.comparisons if comparison.swap is not None]


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per comparison with a swap on paper; None where there is none."""
    shown = swaps(analysis)
    if not shown:
        return None
    figure, axes = panels(style.WIDTH_IN, 3.4 * len(shown), len(shown), room=Room(down=0.62))
    for ax, (comparison, swap) in zip(axes, shown, strict=True):
        _panel(ax, analysis, comparison, swap)
    return figure


def index_of(analysis: Analysis, name: str) -> int:
    """Return the place of a setup, which gives its colour."""
    return [result.setup.name for result in analysis.setups].index(name)


def _panel(ax: Axes, analysis: Analysis, comparison: Comparison, swap: SwapOnPaper) -> None:
    unit = analysis.speed_unit
    sides = ((swap.reference, comparison.reference, "-"), (swap.other, comparison.other, "--"))
    for gearing, name, line in sides:
        look = style.setup_style(index_of(analysis, name))
        for thrust in gearing.thrust:
            speed = [from_mps(v, unit) for v in thrust.speed_mps]
            ax.fill_between(speed, thrust.lo95_n, thrust.hi95_n, color=look.light, alpha=0.3, linewidth=0)
            label = drawable(gearing.name) if thrust.gear == 1 else None
            ax.plot(speed, thrust.thrust_n, line, color=look.dark, linewidth=1.6, label=label)
            if line == "-":
                ax.annotate(
                    str(thrust.gear), (speed[0], thrust.thrust_n[0]), xytext=(-9, -3), textcoords="offset points"
                )
        _marks(ax, gearing, unit, look)
    speed = [from_mps(v, unit) for v in swap.resistance_mps]
    ax.plot(speed, swap.resistance_n, color=style.INK, linewidth=1.4, label="resistance on the level")
    ax.set_ylim(bottom=0)
    ax.set_xlim(
        left=0, right=from_mps(max(max(t.speed_mps) for g in (swap.reference, swap.other) for t in g.thrust), unit)
    )
    both_units.scale(ax, "x", unit, "Road speed [{}]")
    ax.set_ylabel("Thrust at the wheel [N]")
    ax.legend(loc="upper right")


def _marks(ax: Axes, gearing: Gearing, unit: str, look: style.SetupStyle) -> None:
    for gear, speed in enumerate(gearing.best_shift_mps, start=1):
        if speed is not None:
            height = _height(gearing, gear, speed)
            ax.plot(
                [from_mps(speed, unit)], [height], look.marker, color=look.dark, markersize=7, markerfacecolor="white"
            )
    if gearing.top_mps is not None:
        ax.axvline(from_mps(gearing.top_mps, unit), color=look.dark, linewidth=0.9, linestyle=":")


def _height(gearing: Gearing, gear: int, speed_mps: float) -> float:
    thrust = gearing.thrust[gear - 1]
    nearest = min(range(len(thrust.speed_mps)), key=lambda i: abs(thrust.speed_mps[i] - speed_mps))
    return thrust.thrust_n[nearest]


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    shown = [swap for _, swap in swaps(analysis)]
    swap, gearings = shown[0], [gearing for each in shown for gearing in (each.reference, each.other)]
    marks = ""
    if any(speed is not None for gearing in gearings for speed in gearing.best_shift_mps):
        marks += " An open mark is the speed from which the next gear pulls harder"
        marks += "; where there is none, the limit comes first."
    if any(gearing.top_mps is not None for gearing in gearings):
        marks += " Dotted: the speed at which thrust meets the resistance."
    mass = "as stated" if swap.mass_stated else "assumed, since bike.toml states none: it scales all forces alike"
    drag = {"coasting": "from coasting in neutral", "stated": "as stated"}.get(swap.drag_from, "assumed")
    return (
        f"The hardest riding seen in the ride “{swap.reference.name}”; bands are 95 %. Forces for "
        f"{number(swap.mass_kg, 0)} kg ({mass}); resistance {drag}. First gear pulls hardest and stands highest, the "
        f"others follow.{marks} Figures for a closed track."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    parts = []
    for comparison, swap in swaps(analysis):
        harder = f"{number(abs(swap.thrust_percent), 1)}{TIE}% {'harder' if swap.thrust_percent > 0 else 'less hard'}"
        told = [
            f"On paper “{comparison.other}” pulls {harder} than “{comparison.reference}” in each gear at the same "
            "engine speed"
        ]
        for gearing in (swap.reference, swap.other):
            most, least = (max(gearing.thrust[at].thrust_n) for at in (0, -1))
            ends = f"{gearing.name} up to {number(most, 0)} N in {ordinal(gearing.thrust[0].gear)} gear"
            ends += f" and {number(least, 0)} N in {ordinal(gearing.thrust[-1].gear)}"
            if gearing.top_mps is not None:
                ends += f", held by the air at {number(from_mps(gearing.top_mps, unit), 0)} {speed_label(unit)}"
            told.append(ends)
        parts.append("; ".join(told))
    return f"{'. '.join(parts)}. Thrust at the wheel against road speed, with the resistance on the level."
