"""Speed against time of a standing start on paper, both gearings, with gears and shifts marked."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.report import both_units, style
from gearfit.report.panels import Room, panels
from gearfit.report.style import drawable, in_our_style
from gearfit.report.thrust_per_gear import index_of, swaps
from gearfit.results import Analysis, Comparison, SwapOnPaper
from gearfit.thrust_results import SpeedCourse
from gearfit.units import from_mps
from gearfit.words import count, number, speed_label


@in_our_style
def draw(analysis: Analysis, *, narrow: bool = False) -> Figure | None:
    """Draw one panel per comparison whose reference ride has a start; None where there is none."""
    shown = with_courses(analysis)
    if not shown:
        return None
    size = (style.NARROW_IN, 3.2 * len(shown)) if narrow else (style.WIDE_IN, 4.2 * len(shown))
    figure, axes = panels(*size, len(shown), room=Room(down=0.62))
    for ax, (comparison, swap) in zip(axes, shown, strict=True):
        _panel(ax, analysis, comparison, swap)
    return figure


def with_courses(analysis: Analysis) -> list[tuple[Comparison, SwapOnPaper]]:
    """Return the comparisons whose swap on paper holds a start with either gearing."""
    return [
        (comparison, swap)
        for comparison, swap in swaps(analysis)
        if swap.reference.course is not None and swap.other.course is not None
    ]


def _panel(ax: Axes, analysis: Analysis, comparison: Comparison, swap: SwapOnPaper) -> None:
    unit = analysis.speed_unit
    sides = ((swap.reference.course, comparison.reference, "-", 9), (swap.other.course, comparison.other, "--", -14))
    for course, name, line, away in sides:
        if course is None:
            continue
        look = style.setup_style(index_of(analysis, name))
        speed = [from_mps(v, unit) for v in course.speed_mps]
        ax.plot(course.time_s, speed, line, color=look.dark, linewidth=1.8, label=drawable(name))
        marks = [from_mps(v, unit) for v in course.shift_mps]
        ax.plot(course.shift_s, marks, look.marker, color=look.dark, markersize=6, markerfacecolor="white")
        for gear, time, height in _middles(course):
            ax.annotate(
                str(gear),
                (time, from_mps(height, unit)),
                xytext=(0, away),
                textcoords="offset points",
                color=look.dark,
                ha="center",
            )
    ax.set_xlim(left=0)
    ax.set_ylim(bottom=0)
    ax.set_xlabel("Time from the start [s]")
    both_units.scale(ax, "y", unit, "Road speed [{}]")
    ax.legend(loc="lower right")


def _middles(course: SpeedCourse) -> list[tuple[int, float, float]]:
    """Place for the number of each gear: the middle of its stretch."""
    places = []
    for gear in sorted(set(course.gear) - {0}):
        inside = [i for i, g in enumerate(course.gear) if g == gear]
        middle = inside[len(inside) // 2]
        places.append((gear, course.time_s[middle], course.speed_mps[middle]))
    return places


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    swap = with_courses(analysis)[0][1]
    return (
        f"On the level, from {count(swap.starts, 'start')} of the ride “{swap.reference.name}”: the same engine, "
        "launch, shift speed and shift time with either gearing. Numbers: gears; open marks: changes up. Arithmetic, "
        "no advice: how hard a start front wheel and road allow is not in it. Closed road or track only."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    parts = []
    for _, swap in with_courses(analysis):
        courses = [(g.name, g.course) for g in (swap.reference, swap.other) if g.course is not None]
        reached = min(max(course.speed_mps) for _, course in courses)
        told = [
            f"{name} {number(_moment(course, reached), 1)} s with {count(len(course.shift_s), 'change')} up"
            for name, course in courses
        ]
        parts.append(f"from rest to {number(from_mps(reached, unit), 0)} {speed_label(unit)} takes {', '.join(told)}")
    return f"On paper, {'; '.join(parts)}. Speed against time from a standing start."


def _moment(course: SpeedCourse, speed_mps: float) -> float:
    """Return when a speed is reached first."""
    return next(t for t, v in zip(course.time_s, course.speed_mps, strict=True) if v >= speed_mps)
