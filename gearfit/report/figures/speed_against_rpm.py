"""Road speed against engine speed: every sample, the fitted line of each gear, and the predicted one."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from gearfit.records.results import Analysis, Comparison, GearResult, SetupResult
from gearfit.records.words import count, ordinal, setup_label, speed_label
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, legend_below, panels
from gearfit.report.figures.style import SetupStyle, in_our_style
from gearfit.report.tables.tables import change_of
from gearfit.units import from_mps

_FEW: Final = 300
#: Readings of a sheet that are marks of their own, each with its words.
_EACH: Final = 60
_HEADROOM: Final = 1.08
_SPEED: Final = "Road speed [{}]"


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per setup, all with the same axes; None where no sample has both speed and engine speed."""
    if not any(_complete(result).any() for result in analysis.setups):
        return None
    count_of = len(analysis.setups)
    titles = [style.in_lines(setup_label(result.setup), style.WIDTH_IN - 0.6) for result in analysis.setups]
    legend = _legend(analysis)
    room = Room().under(titles, extra=0.16).over_legend([str(handle.get_label()) for handle in legend], 2)
    figure, axes = panels(style.WIDTH_IN, 3.3 * count_of + 0.8, count_of, room=room, sharex=True, sharey=True)
    for index, (ax, text) in enumerate(zip(axes, titles, strict=True)):
        draw_panel(ax, analysis, index)
        ax.set_title(text, pad=16)
        both_units.scale(ax, "y", analysis.speed_unit, _SPEED)
        ax.label_outer()
    legend_below(figure, legend, 2)
    return figure


def draw_panel(ax: Axes, analysis: Analysis, index: int) -> None:
    """Draw the samples and lines of the setup at `index` into `ax`."""
    result = analysis.setups[index]
    look = style.setup_style(index)
    unit = analysis.speed_unit
    rpm_end, speed_end = axis_ends(analysis)
    ax.set_xlim(0, rpm_end)
    ax.set_ylim(0, speed_end)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]))
    ax.set_xlabel("Engine speed [rpm]")
    ax.set_ylabel(_SPEED.format(speed_label(unit)))
    _samples(ax, result, look, unit)
    for gear in result.gears:
        slope = from_mps(gear.speed_per_1000rpm_mps.value, unit) / 1000
        end = min(rpm_end, speed_end / slope)
        line = [0, end], [0, slope * end]
        ax.plot(*line, color=look.dark, linewidth=1.2, gid=_said(gear), label=f"fitted {gear.gear}")
        at_right = end >= rpm_end
        ax.annotate(
            str(gear.gear),
            (end, slope * end),
            xytext=(4, 0) if at_right else (0, 3),
            textcoords="offset points",
            ha="left" if at_right else "center",
            va="center" if at_right else "bottom",
            fontweight="bold",
            color=style.INK,
            annotation_clip=False,
        )
    comparison = next((c for c in analysis.comparisons if c.other == result.setup.name), None)
    if comparison is not None:
        _predicted(ax, analysis, comparison, rpm_end, speed_end)
    _outlying(ax, result, unit)


def axis_ends(analysis: Analysis) -> tuple[float, float]:
    """Return the ends of the engine-speed [rpm] and speed [analysis unit] axes: all in-gear samples fit."""
    limit_rpm = analysis.bike.engine.limit_rpm or 0.0
    rpm_end, speed_end = limit_rpm, 0.0
    for result in analysis.setups:
        shown = result.samples["gear"].notna().to_numpy(bool) & _complete(result)
        shown = shown if shown.any() else _complete(result)
        if shown.any():
            rpm_end = max(rpm_end, _HEADROOM * float(result.samples["engine_rpm"].to_numpy()[shown].max()))
            speed_end = max(speed_end, _HEADROOM * float(result.samples["speed_mps"].to_numpy()[shown].max()))
    return rpm_end or 1000.0, from_mps(speed_end or 1.0, analysis.speed_unit)


def beyond_edges(analysis: Analysis) -> int:
    """Count the left-out samples that lie beyond the ends of the axes."""
    rpm_end, speed_end = axis_ends(analysis)
    return sum(
        int(
            (
                (result.samples["engine_rpm"] > rpm_end)
                | (from_mps(1.0, analysis.speed_unit) * result.samples["speed_mps"] > speed_end)
            ).sum()
        )
        for result in analysis.setups
    )


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    text = "Every sample read. A gear is a straight line from the corner; its number stands at the line's end."
    if any(comparison.predicted_change_percent is not None for comparison in analysis.comparisons):
        text += (
            f" The dashed lines are those of “{analysis.setups[0].setup.name}” moved by what the tooth counts say: "
            "where dashed and solid lie on each other, the gear moved as predicted."
        )
    beyond = beyond_edges(analysis)
    return f"{text} {count(beyond, 'left-out sample')} beyond the edges." if beyond else text


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    parts = []
    for result in analysis.setups:
        name = setup_label(result.setup)
        if not result.gears:
            parts.append(f"{name}: no stepped gears found")
            continue
        first, last = (from_mps(result.gears[at].speed_per_1000rpm_mps.value, unit) for at in (0, -1))
        ends = f"from {first:.1f} {speed_label(unit)} per 1000 rpm in {ordinal(result.gears[0].gear)} gear"
        if len(result.gears) > 1:
            ends += f" to {last:.1f} in {ordinal(result.gears[-1].gear)}"
        parts.append(
            f"{name}: the samples lie on {count(len(result.gears), 'straight line')}, {ends}{_beside(analysis, result)}"
        )
    return f"{'. '.join(parts)}. Road speed against engine speed."


def _beside(analysis: Analysis, result: SetupResult) -> str:
    """Say how fitted and predicted lines lie to each other."""
    comparison = next((c for c in analysis.comparisons if c.other == result.setup.name), None)
    if comparison is None or comparison.predicted_change_percent is None or not comparison.gears:
        return ""
    odd = [ordinal(change.gear) for change in comparison.gears if change.consistent is False]
    if not odd:
        return ", where the tooth counts predict them"
    return f", where the tooth counts predict them but for {' and '.join(odd)} gear"


def _complete(result: SetupResult) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return (result.samples["speed_mps"].notna() & result.samples["engine_rpm"].notna()).to_numpy(bool)


def _samples(ax: Axes, result: SetupResult, look: SetupStyle, unit: str) -> None:
    rpm = result.samples["engine_rpm"].to_numpy(float)
    speed = from_mps(1.0, unit) * result.samples["speed_mps"].to_numpy(float)
    gear = result.samples["gear"].to_numpy(float, na_value=np.nan)
    few = len(gear) < _FEW
    size = 6.0 if few else 1.9
    groups = (
        ("left out", np.isnan(gear), style.LEFT_OUT, "x" if few else "o"),
        ("in a gear", ~np.isnan(gear), look.light, look.marker if few else "o"),
    )
    for label, chosen, colour, marker in groups:
        marks = np.flatnonzero(chosen)
        for at in np.split(marks, marks.size if marks.size <= _EACH else 1) if marks.size else []:
            ax.plot(
                rpm[at],
                speed[at],
                linestyle="none",
                marker=marker,
                markersize=size,
                markeredgewidth=1.2 if marker == "x" else 0,
                color=colour,
                label=label if at[0] == marks[0] else None,
                gid=_reading(result, int(at[0])) if few and at.size == 1 else None,
                rasterized=not few,
                zorder=1.5,
            )


def _reading(result: SetupResult, at: int) -> str:
    """Say what a single reading is, in both units."""
    row = result.samples.iloc[at]
    gear = "excluded" if pd.isna(row["gear"]) else f"{ordinal(int(row['gear']))} gear"
    return f"tip:{gear}: {_in_both(row['speed_mps'])} at {row['engine_rpm']:.0f} rpm"


def _said(gear: GearResult) -> str:
    return f"tip:{ordinal(gear.gear)} gear: {_in_both(gear.speed_per_1000rpm_mps.value)} at 1000 rpm"


def _in_both(speed_mps: float) -> str:
    return ", ".join(f"{from_mps(speed_mps, unit):.1f} {speed_label(unit)}" for unit in ("kmh", "mph"))


def _predicted(ax: Axes, analysis: Analysis, comparison: Comparison, rpm_end: float, speed_end: float) -> None:
    for gear in analysis.setups[0].gears:
        change = change_of(comparison, gear.gear)
        percent = comparison.predicted_change_percent if change is None else change.predicted_percent
        if percent is None:
            continue
        slope = from_mps(gear.speed_per_1000rpm_mps.value, analysis.speed_unit) / 1000 * (1 + percent / 100)
        end = min(rpm_end, speed_end / slope)
        ax.plot(
            [0, end],
            [0, slope * end],
            color=style.INK,
            linewidth=1.1,
            linestyle=(0, (5, 3)),
            label=f"predicted {gear.gear}",
            zorder=3,
        )


def _outlying(ax: Axes, result: SetupResult, unit: str) -> None:
    for row in result.outlying_rows:
        speed = from_mps(row.speed_mps, unit)
        ax.plot(
            [row.engine_rpm],
            [speed],
            linestyle="none",
            marker="o",
            markersize=14,
            markerfacecolor="none",
            markeredgecolor=style.INK,
            markeredgewidth=1.4,
            label=f"row {row.row}",
            zorder=4,
        )
        ax.annotate(
            f"row {row.row}",
            (row.engine_rpm, speed),
            xytext=(-9, 6),
            textcoords="offset points",
            ha="right",
            bbox={"boxstyle": "square,pad=0.15", "facecolor": style.PAPER, "edgecolor": "none", "alpha": 0.85},
            zorder=4,
        )


def _legend(analysis: Analysis) -> list[Line2D]:
    look = style.setup_style(0)
    handles = [
        Line2D([], [], color=look.light, marker="o", linestyle="none", markersize=5, label="sample in a gear"),
        Line2D([], [], color=style.LEFT_OUT, marker="o", linestyle="none", markersize=5, label="left out"),
        Line2D([], [], color=look.dark, linewidth=1.2, label="fitted"),
    ]
    if any(comparison.predicted_change_percent is not None for comparison in analysis.comparisons):
        label = "predicted from the tooth counts"
        handles.append(Line2D([], [], color=style.INK, linewidth=1.1, linestyle=(0, (5, 3)), label=label))
    return handles
