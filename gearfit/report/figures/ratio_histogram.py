"""Histogram of engine speed per road speed: each gear is a heap."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import StepPatch
from matplotlib.ticker import MaxNLocator

from gearfit.records.results import Analysis, SetupResult
from gearfit.records.words import TIE, count, setup_label, speed_label
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, panels
from gearfit.report.figures.style import in_our_style
from gearfit.units import SPEED_UNITS_MPS, from_mps

#: Width of a bin as a step of ln(n/v), and how far the axis goes beyond the outer gears.
_STEP: Final = 0.01
_STEP_FEW: Final = 0.03
_FEW: Final = 300
_MARGIN: Final = 0.25
Counts = np.ndarray[tuple[int], np.dtype[np.float64]]
_TICKS: Final = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8)


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per setup, one above the other; None where no sample has a ratio."""
    if not any(np.isfinite(_ln_ratio(result)).any() for result in analysis.setups):
        return None
    rows = len(analysis.setups)
    titles = [style.in_lines(setup_label(result.setup), style.WIDTH_IN - 0.8) for result in analysis.setups]
    figure, axes = panels(style.WIDTH_IN, 2.0 * rows + 0.7, rows, room=Room().under(titles), sharex=True)
    lo, hi = axis_ends(analysis)
    axes[0].set_xscale("log")
    axes[0].set_xlim(*(math.exp(end) * SPEED_UNITS_MPS[analysis.speed_unit] for end in (lo, hi)))
    for index, (ax, result) in enumerate(zip(axes, analysis.setups, strict=True)):
        _panel(ax, result, index, analysis.speed_unit, (lo, hi))
        ax.set_title(titles[index])
        ax.label_outer()
    both_units.scale(
        axes[-1],
        "x",
        analysis.speed_unit,
        "Engine per road speed [rpm per {}]",
        ticks=_tick_values,
        per_speed=True,
        grid=False,
    )
    return figure


def axis_ends(analysis: Analysis) -> tuple[float, float]:
    """Return the ends of the axis as ln of rev/min per m/s: the gears with a margin, else the middle 98 %."""
    slopes = [gear.speed_per_1000rpm_mps.value for result in analysis.setups for gear in result.gears]
    if slopes:
        return math.log(1000 / max(slopes)) - _MARGIN, math.log(1000 / min(slopes)) + _MARGIN
    every = np.concatenate([_ln_ratio(result) for result in analysis.setups])
    lo, hi = np.quantile(every[np.isfinite(every)], (0.01, 0.99))
    return float(lo) - _MARGIN, float(hi) + _MARGIN


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    lo, hi = axis_ends(analysis)
    beyond = 0
    for result in analysis.setups:
        ratio = _ln_ratio(result)
        beyond += int(((ratio < lo) | (ratio > hi)).sum())
    text = (
        "How often each engine speed per road speed was ridden. Each gear is a heap; the line in it is the fitted "
        "value. Equal distances are equal factors, so a change of sprocket moves all heaps equally far. Grey: samples "
        "left out."
    )
    return f"{text} {count(beyond, 'sample')} beyond the edges." if beyond else text


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    parts = []
    for result in analysis.setups:
        name = setup_label(result.setup)
        if not result.gears:
            parts.append(f"{name}: no separate heaps, so no gears")
            continue
        first, last = (1000 / from_mps(result.gears[at].speed_per_1000rpm_mps.value, unit) for at in (0, -1))
        share = 100 * result.in_gear / max(len(result.samples), 1)
        parts.append(
            f"{name}: {count(len(result.gears), 'separate heap')}, one a gear, between {last:.0f} and {first:.0f} "
            f"rpm per {speed_label(unit)}; {share:.0f}{TIE}% of the samples lie in one"
        )
    return f"{'. '.join(parts)}. Histogram of engine speed per road speed."


def _panel(ax: Axes, result: SetupResult, index: int, unit: str, ends: tuple[float, float]) -> None:
    edges, every, geared = counted(result, ends)
    shown_edges = np.exp(edges) * SPEED_UNITS_MPS[unit]
    look = style.setup_style(index)
    # as `Axes.stairs` draws them, which would walk along every step to find the limits that are set here
    for patch in (
        StepPatch(every, shown_edges, color=style.LEFT_OUT, linewidth=0, label="left out"),
        StepPatch(geared, shown_edges, color=look.light, linewidth=0, label="in a gear"),
        StepPatch(geared, shown_edges, fill=False, color=look.dark, linewidth=0.7),
    ):
        ax.add_artist(patch)
    ax.set_ylim(0, 1.22 * max(float(every.max(initial=0)), 1.0))
    ax.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True, steps=[1, 2, 5, 10]))
    ax.set_ylabel("Samples")
    ax.grid(visible=False, axis="x")
    for gear in result.gears:
        at = 1000 / from_mps(gear.speed_per_1000rpm_mps.value, unit)
        ax.axvline(at, color=style.INK, linewidth=0.9, ymax=0.86, label=f"gear {gear.gear}")
        ax.annotate(
            str(gear.gear),
            (at, 0.87),
            xycoords=("data", "axes fraction"),
            ha="center",
            va="bottom",
            fontweight="bold",
        )


def counted(result: SetupResult, ends: tuple[float, float]) -> tuple[Counts, Counts, Counts]:
    """Return the edges of the columns as ln of rev/min per m/s, the samples in each, and those in a gear."""
    ratio = _ln_ratio(result)
    in_gear = result.samples["gear"].notna().to_numpy(bool)
    step = _STEP_FEW if len(ratio) < _FEW else _STEP
    edges = np.arange(ends[0], ends[1] + step, step)
    every, _ = np.histogram(ratio[np.isfinite(ratio)], edges)
    geared, _ = np.histogram(ratio[in_gear & np.isfinite(ratio)], edges)
    return edges, every.astype(np.float64), geared.astype(np.float64)


def _ln_ratio(result: SetupResult) -> Counts:
    return result.samples["ln_ratio"].to_numpy(np.float64)


def _tick_values(lo: float, hi: float) -> list[float]:
    decades = range(math.floor(math.log10(lo)), math.ceil(math.log10(hi)) + 1)
    return [tick * 10.0**decade for decade in decades for tick in _TICKS if lo <= tick * 10.0**decade <= hi]
