"""Circumference over dates: in order of date, only where there is a line to show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gearfit.records.results import Analysis
from gearfit.report.figures import circumference_history
from tests.report import example

DAY_S = 86_400.0


def with_dates(*days: float | None) -> Analysis:
    """Three setups ridden so many days after 2026-05-01 (1 777 593 600 s after 1970, by the calendar)."""
    analysis = example.three_setups()
    setups = tuple(
        replace(result, ridden_unix_s=None if day is None else 1_777_593_600 + day * DAY_S)
        for result, day in zip(analysis.setups, days, strict=True)
    )
    return replace(analysis, setups=setups)


def test_marks_stand_in_order_of_date() -> None:
    figure = circumference_history.draw(with_dates(30, 0, 90))
    assert figure is not None
    (line,) = [line for line in figure.axes[0].get_lines() if line.get_label() == "in order of date"]
    days = np.asarray(line.get_xdata(), dtype=np.float64)
    np.testing.assert_allclose(np.diff(days), [30, 60])
    figure.draw_without_rendering()
    assert figure.axes[0].get_xlabel() == "Date of the ride, 2026"
    assert {"01 Jun", "01 Jul"} <= {label.get_text() for label in figure.axes[0].get_xticklabels()}
    assert circumference_history.alt(with_dates(30, 0, 90)).startswith(
        "The intervals of all setups overlap, so no change of the circumference is shown. 01 May 2026, "
        "after (13/43): 1.962"
    )


def test_two_dates_are_no_line() -> None:
    assert circumference_history.draw(with_dates(0, 30, None)) is None
