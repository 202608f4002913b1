"""Speed against time of a standing start on paper, both gearings, with gears and shifts marked."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, Comparison, SwapOnPaper
from gearfit.records.thrust_results import SpeedCourse
from gearfit.records.words import count, number, speed_label
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, panels
from gearfit.report.figures.style import drawable, in_our_style
from gearfit.report.figures.thrust_per_gear import index_of, swaps
from gearfit.units import from_mps

#: Distance of a gear's number from its curve.
_AWAY_PT: Final = 4.0


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per comparison whose reference ride has a start; None where there is none."""
    shown = with_courses(analysis)
    if not shown:
        return None
    figure, axes = panels(style.WIDTH_IN, 3.2 * len(shown), len(shown), room=Room(down=0.62))
    for ax, (_, swap) in zip(axes, shown, strict=True):
        _panel(ax, analysis, swap)
    return figure


def with_courses(analysis: Analysis) -> list[tuple[Comparison, SwapOnPaper]]:
    """Return the comparisons whose swap on paper holds a start with either gearing."""
    return [
        (comparison, swap)
        for comparison, swap in swaps(analysis)
        if swap.reference.course is not None and swap.other.course is not None
    ]


def to_one_speed(swap: SwapOnPaper) -> list[tuple[str, SpeedCourse]]:
    """Return the course of either gearing with its name, both up to the lower of the two speeds at their ends."""
    courses = [(g.name, g.course) for g in (swap.reference, swap.other) if g.course is not None]
    reached_mps = min(max(course.speed_mps) for _, course in courses)
    return [(name, _until(course, reached_mps)) for name, course in courses]


def _until(course: SpeedCourse, speed_mps: float) -> SpeedCourse:
    """Return a course up to the moment when it first reaches a speed."""
    place = next(i for i, v in enumerate(course.speed_mps) if v >= speed_mps)
    between = [0.0 if place == 0 else course.speed_mps[place - 1], course.speed_mps[place]]
    end_s = float(np.interp(speed_mps, between, [course.time_s[max(place - 1, 0)], course.time_s[place]]))
    changes = sum(moment < end_s for moment in course.shift_s)
    return SpeedCourse(
        (*course.time_s[:place], end_s),
        (*course.speed_mps[:place], speed_mps),
        course.gear[: place + 1],
        course.shift_s[:changes],
        course.shift_mps[:changes],
    )


def _panel(ax: Axes, analysis: Analysis, swap: SwapOnPaper) -> None:
    unit = analysis.speed_unit
    shown = to_one_speed(swap)
    for (name, course), (_, other), line in zip(shown, shown[::-1], ("-", "--"), strict=True):
        look = style.setup_style(index_of(analysis, name))
        speed = [from_mps(v, unit) for v in course.speed_mps]
        ax.plot(course.time_s, speed, line, color=look.dark, linewidth=1.8, label=drawable(name))
        marks = [from_mps(v, unit) for v in course.shift_mps]
        ax.plot(course.shift_s, marks, look.marker, color=look.dark, markersize=6, markerfacecolor="white")
        for gear, time, height, above in _places(course, other):
            ax.annotate(
                str(gear),
                (time, from_mps(height, unit)),
                xytext=(-_AWAY_PT, _AWAY_PT) if above else (_AWAY_PT, -_AWAY_PT),
                textcoords="offset points",
                color=look.dark,
                ha="right" if above else "left",
                va="bottom" if above else "top",
            )
    ax.set_xlim(left=0)
    ax.set_ylim(bottom=0)
    ax.set_xlabel("Time from the start [s]")
    both_units.scale(ax, "y", unit, "Road speed [{}]")
    ax.legend(loc="lower right")


def _places(course: SpeedCourse, other: SpeedCourse) -> list[tuple[int, float, float, bool]]:
    """Place the number of each gear: where its stretch, but for its ends, is farthest from the other curve.

    Returns gear, time, speed, and whether the number goes above: on the side where the other curve is not.
    """
    places = []
    for gear in sorted(set(course.gear) - {0}):
        inside = [i for i, g in enumerate(course.gear) if g == gear]
        middle = inside[len(inside) // 4 : -(len(inside) // 4) or None]
        gaps = [course.speed_mps[i] - float(np.interp(course.time_s[i], other.time_s, other.speed_mps)) for i in middle]
        farthest = max(range(len(gaps)), key=lambda i: abs(gaps[i]))
        at = middle[farthest]
        places.append((gear, course.time_s[at], course.speed_mps[at], gaps[farthest] >= 0))
    return places


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    swap = with_courses(analysis)[0][1]
    return (
        f"The hardest riding seen, on the level, from {count(swap.starts, 'start')} of the ride "
        f"“{swap.reference.name}”: the same engine, launch, shift speed and shift time with either gearing, up to one "
        "speed; with more throttle both come sooner. "
        "Numbers: gears; open marks: changes up. Arithmetic, no advice: how hard a start front wheel and road allow is "
        "not in it. Closed road or track only."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    unit = analysis.speed_unit
    parts = []
    for _, swap in with_courses(analysis):
        courses = to_one_speed(swap)
        reached = courses[0][1].speed_mps[-1]
        told = [
            f"{name} {number(course.time_s[-1], 1)} s with {count(len(course.shift_s), 'change')} up"
            for name, course in courses
        ]
        parts.append(f"from rest to {number(from_mps(reached, unit), 0)} {speed_label(unit)} takes {', '.join(told)}")
    return f"On paper, riding as hard as was seen, {'; '.join(parts)}. Speed against time from a standing start."
