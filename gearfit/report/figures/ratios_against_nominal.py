"""Fitted overall ratios against the tooth counts: deviation of each gear in per cent."""

from __future__ import annotations

import math

from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator

from gearfit.records.results import Analysis, Estimate
from gearfit.records.words import between, ordinal, setup_label, value_and_interval
from gearfit.report.figures import style
from gearfit.report.figures.panels import Room, legend_below, panels
from gearfit.report.figures.style import in_our_style

_SIDE_STEP = 0.16
_AS_TOLD = "as the tooth counts say"


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one series per setup; None where no gear has a nominal ratio to compare with."""
    shown = deviations(analysis)
    if not shown:
        return None
    names = [style.in_lines(setup_label(result.setup), style.WIDTH_IN - 0.9) for result in analysis.setups]
    figure, (ax,) = panels(
        style.WIDTH_IN,
        3.0 + 0.3 * len(analysis.setups),
        room=Room().over_legend([_AS_TOLD, *names], 1),
    )
    ax.axhline(0, color=style.INK, linewidth=1.4, linestyle=(0, (5, 3)), label=_AS_TOLD)
    gears = sorted({gear for _, gear, _, _ in shown})
    named: set[int] = set()
    for index, gear, deviation, consistent in shown:
        look = style.setup_style(index)
        finite = math.isfinite(deviation.lo95) and math.isfinite(deviation.hi95)
        ax.errorbar(
            [place(analysis, index, gear)],
            [deviation.value],
            yerr=[[deviation.value - deviation.lo95], [deviation.hi95 - deviation.value]] if finite else None,
            fmt="X" if consistent is False else look.marker,
            color=look.dark,
            markersize=10 if consistent is False else 7,
            elinewidth=1.8,
            capsize=4,
            label=None if index in named else names[index],
            gid=f"tip:{analysis.setups[index].setup.name}, {ordinal(gear)} gear: "
            f"{value_and_interval(deviation, '%', signed=True)}",
            zorder=3,
        )
        named.add(index)
    ax.set_xlim(gears[0] - 0.6, gears[-1] + 0.6)
    ax.xaxis.set_major_locator(FixedLocator(gears))
    ax.set_xlabel("Gear")
    ax.set_ylabel("Deviation [%]")
    ax.grid(visible=False, axis="x")
    legend_below(figure, ax.get_legend_handles_labels()[0], 1)
    return figure


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "Each gear's overall ratio against the tooth counts once the one rolling circumference that suits the other "
        "gears best is taken out, with 95 % intervals. A cross marks a gear that is out of line with the others."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for index, result in enumerate(analysis.setups):
        mine = [(gear, found, consistent) for at, gear, found, consistent in deviations(analysis) if at == index]
        if not mine:
            continue
        odd = [
            f"{ordinal(gear)} gear by {value_and_interval(found, '%', signed=True)}"
            for gear, found, ok in mine
            if ok is False
        ]
        fine = [found.value for _, found, ok in mine if ok is not False]
        told = f"{setup_label(result.setup)}: "
        told += (
            "every gear agrees with its tooth counts"
            if not odd
            else f"out of line with its tooth counts is {' and '.join(odd)}"
        )
        told += (
            f", the others differ by {between(fine, '%')}"
            if odd and fine
            else f" to within {between(fine, '%')}"
            if fine
            else ""
        )
        parts.append(told)
    return f"{'. '.join(parts)}. Overall ratios against tooth counts, the common circumference taken out."


def place(analysis: Analysis, index: int, gear: int) -> float:
    """Return where on the axis of gears the setup at `index` stands."""
    return gear + _SIDE_STEP * (index - (len(analysis.setups) - 1) / 2)


def deviations(analysis: Analysis) -> list[tuple[int, int, Estimate, bool | None]]:
    """Return place of the setup, gear, deviation and whether it agrees, of each gear that has one."""
    return [
        (index, gear.gear, gear.deviation_percent, gear.consistent)
        for index, result in enumerate(analysis.setups)
        for gear in result.gears
        if gear.deviation_percent is not None and math.isfinite(gear.deviation_percent.value)
    ]
