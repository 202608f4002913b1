"""Error of the speedometer against the true speed: readings, fit with its band, what the rule allows; all setups."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records import words
from gearfit.records.results import Analysis, Speedometer, SpeedometerPoint
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import panels
from gearfit.report.figures.style import in_our_style
from gearfit.units import from_mps

#: More readings than this are drawn as an image under vector axes.
_MANY: Final = 300


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw all setups into one panel; None where no speedometer was judged."""
    shown = [(i, result) for i, result in enumerate(analysis.setups) if result.speedometer is not None]
    if not shown:
        return None
    figure, (ax,) = panels(style.WIDTH_IN, 4.2)
    unit = analysis.speed_unit
    instruments = [result.speedometer for _, result in shown if result.speedometer is not None]
    _allowed(ax, instruments, unit)
    ax.axhline(0.0, color=style.INK, linewidth=1.0, zorder=1.5)
    for index, result in shown:
        if result.speedometer is not None:
            _instrument(ax, result.speedometer, index, unit, style.in_lines(words.setup_label(result.setup), 2.2))
    ax.margins(x=0.02)
    both_units.scale(ax, "x", unit, "True speed [{}]")
    both_units.scale(ax, "y", unit, "Shown less true speed [{}]")
    ax.legend(loc="upper left", fontsize=9)
    return figure


def _allowed(ax: Axes, instruments: list[Speedometer], unit: str) -> None:
    """Shade what the rule allows to show, along the longest curve, or as bars where it rules at test speeds only."""
    longest = max((i.curve for i in instruments), key=lambda curve: curve[-1].true_mps - curve[0].true_mps)
    band = [p for p in longest if p.allowed_lo_mps is not None]
    name = f"allowed by {instruments[0].rule}"
    if band:
        ends = [_ends(p, unit) for p in band]
        speeds = [from_mps(p.true_mps, unit) for p in band]
        low, high = [end[0] for end in ends], [end[1] for end in ends]
        ax.fill_between(speeds, low, high, color=style.RULE, alpha=0.6, linewidth=0, label=name, zorder=0.5)
        return
    for p in instruments[0].at:
        if p.allowed_lo_mps is not None:
            low_end, high_end = _ends(p, unit)
            at = from_mps(p.true_mps, unit)
            ax.plot([at, at], [low_end, high_end], color=style.RULE, linewidth=9, label=name, zorder=0.5)


def _ends(p: SpeedometerPoint, unit: str) -> tuple[float, float]:
    low, high = p.allowed_lo_mps, p.allowed_hi_mps
    if low is None or high is None:
        return 0.0, 0.0
    return from_mps(low - p.true_mps, unit), from_mps(high - p.true_mps, unit)


def _instrument(ax: Axes, instrument: Speedometer, index: int, unit: str, name: str) -> None:
    look = style.setup_style(index)
    readings = instrument.readings
    used = (readings["set_aside"] == "").to_numpy()
    many = len(readings) > _MANY
    error = from_mps(1.0, unit) * (readings["shown_mps"] - readings["true_mps"]).to_numpy()
    true = from_mps(1.0, unit) * readings["true_mps"].to_numpy()
    size, alpha = (2.0, 0.35) if many else (5.5, 0.9)
    ax.plot(
        true[used],
        error[used],
        look.marker,
        color=look.light,
        markersize=size,
        alpha=alpha,
        linewidth=0,
        rasterized=many,
    )
    if (~used).any():
        ax.plot(true[~used], error[~used], "x", color=style.LEFT_OUT, markersize=size + 1, linewidth=0, rasterized=many)
    speeds = [from_mps(p.true_mps, unit) for p in instrument.curve]
    middle = [words.in_unit(p.error_mps, unit) for p in instrument.curve]
    ends = [e.lo95 for e in middle], [e.hi95 for e in middle]
    ax.fill_between(speeds, *ends, color=look.dark, alpha=0.22, linewidth=0, zorder=2)
    ax.plot(speeds, [e.value for e in middle], color=look.dark, linewidth=1.8, zorder=3, label=name)


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "How much more (+) or less (−) than the true speed it shows. Marks are readings, lines the fit with "
        "its 95 % band, crosses readings left aside; the grey area is what the rule allows where one was asked for. "
        "Below the zero line a rider goes faster than the dash says."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    label = words.speed_label(unit)
    parts = []
    for result in analysis.setups:
        if result.speedometer is None or not result.speedometer.at:
            continue
        errors = ", ".join(
            f"{words.value_and_interval(words.in_unit(p.error_mps, unit), label, signed=True)} at "
            f"{words.number(from_mps(p.true_mps, unit), 0)}"
            for p in result.speedometer.at
        )
        rule = result.speedometer.rule
        verdict = "" if rule == "none" else f"; against {rule}: {result.speedometer.verdict}"
        told = f"the speedometer {_leaning(result.speedometer)}: {errors}{verdict}"
        parts.append(f"{words.setup_label(result.setup)}: {told}")
    return f"{'. '.join(parts)}. Error of the speedometer against the true speed."


def _leaning(instrument: Speedometer) -> str:
    """Say to which side the instrument errs."""
    errors = [p.error_mps for p in instrument.at]
    if all(error.lo95 > 0 for error in errors):
        return "shows too much"
    if all(error.hi95 < 0 for error in errors):
        return "shows too little"
    return "is not shown to be off" if all(error.contains(0.0) for error in errors) else "is off at some speeds"
