"""A standing start on paper: both curves end at one speed, and no number lies on the other curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Annotation

from gearfit.records.results import Analysis
from gearfit.records.thrust_results import SpeedCourse
from gearfit.report.figures import speed_course
from tests.report import example
from tests.thrust.test_from_a_ride import predicted


def course(gears_mps: tuple[float, ...], pull_mps2: float) -> SpeedCourse:
    """A start in gears that end at these speeds, 12 % less pull in each next one, 0.3 s a shift."""
    time, speed, gear, marks = [0.0], [0.0], [0], []
    for number, end in enumerate(gears_mps, start=1):
        grid = np.linspace(speed[-1], end, 30)
        time += list(time[-1] + (grid - grid[0]) / (pull_mps2 * 0.88**number))
        speed += list(grid)
        gear += [number] * grid.size
        if number < len(gears_mps):
            marks.append((time[-1], speed[-1]))
            time.append(time[-1] + 0.3)
            speed.append(speed[-1] - 0.2)
            gear.append(0)
    return SpeedCourse(tuple(time), tuple(speed), tuple(gear), tuple(m[0] for m in marks), tuple(m[1] for m in marks))


LONG, SHORT = course((18.0, 24.0, 29.0, 36.0), 7.8), course((17.0, 22.0, 27.0, 31.0), 8.2)


def analysis(first: SpeedCourse, second: SpeedCourse) -> Analysis:
    made, swap = example.two_setups(), predicted(False)
    reference = replace(swap.reference, name="before", course=first)
    swap = replace(swap, reference=reference, other=replace(swap.other, name="after", course=second))
    return replace(made, comparisons=(replace(made.comparisons[0], swap=swap),))


@pytest.mark.parametrize(("first", "second"), [(LONG, SHORT), (SHORT, LONG)])
def test_both_end_at_the_lower_of_the_two_speeds(first: SpeedCourse, second: SpeedCourse) -> None:
    made = analysis(first, second)
    figure = speed_course.draw(made)
    assert figure is not None
    drawn = [np.asarray(line.get_xydata()) for line in figure.axes[0].get_lines()]
    ends = [points[-1] for points in drawn if len(points) > 30]
    assert [end[1] for end in ends] == pytest.approx([31.0 * 3.6] * 2)
    # in fourth gear the longer one goes from 28.8 m/s by 7.8 * 0.88^4 m/s^2
    begun_s = LONG.shift_s[-1] + 0.3
    wanted = begun_s + (31.0 - 28.8) / (7.8 * 0.88**4)
    assert [end[0] for end in ends][0 if first is LONG else 1] == pytest.approx(wanted)
    assert speed_course.alt(made).startswith(
        "On paper, riding as hard as was seen, from rest to 112 km/h takes before "
    )


@pytest.mark.parametrize("ridden", [False, True])
def test_no_number_lies_on_a_curve_or_a_mark(ridden: bool) -> None:
    swap = predicted(False)
    assert swap.reference.course is not None
    assert swap.other.course is not None
    made = analysis(swap.reference.course, swap.other.course) if ridden else analysis(LONG, SHORT)
    figure = speed_course.draw(made)
    assert figure is not None
    figure.draw_without_rendering()
    (ax,) = figure.axes
    gears = [text for text in ax.texts if isinstance(text, Annotation)]
    assert len(gears) >= 6
    for text in gears:
        box = text.get_window_extent()
        for line in ax.get_lines():
            points = ax.transData.transform(np.asarray(line.get_xydata()))
            steps = np.linspace(0.0, len(points) - 1, 40 * len(points))
            if line.get_linestyle() == "None":
                steps = np.arange(len(points), dtype=float)
            x, y = (np.interp(steps, np.arange(len(points)), points[:, k]) for k in (0, 1))
            inside = (x > box.x0) & (x < box.x1) & (y > box.y0) & (y < box.y1)
            assert not inside.any(), (text.get_text(), text.get_color())
