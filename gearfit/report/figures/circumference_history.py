"""Fitted rolling circumference over the dates of the rides: a worn tyre rolls less far."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, Circumference
from gearfit.records.words import number, setup_label, value_and_interval
from gearfit.report.figures import style
from gearfit.report.figures.panels import Room, legend_below, panels
from gearfit.report.figures.style import in_our_style

#: With fewer dated setups there is no line to speak of.
LEAST: Final = 3
_IN_ORDER: Final = "in order of date"
#: How dates are written whose ticks are years, months, days, hours, minutes or seconds apart.
_TICKS: Final = ["%Y", "%b %Y", "%d %b", "%H:%M", "%H:%M", "%H:%M:%S"]


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one mark per setup; None where fewer than `LEAST` have a date and a circumference."""
    shown = dated(analysis)
    if len(shown) < LEAST:
        return None
    labels = [_IN_ORDER, *(style.in_lines(setup_label(analysis.setups[index].setup), 3.0) for index, _, _ in shown)]
    figure, (ax,) = panels(
        style.WIDTH_IN,
        3.6 + 0.17 * len(shown),
        room=Room(left=0.84).over_legend(labels, 1),
    )
    days = [date2num(when) for _, when, _ in shown]  # type: ignore[no-untyped-call]
    values = [found.estimate_m.value for _, _, found in shown]
    ax.plot(days, values, color=style.LEFT_OUT, linewidth=1.2, label=_IN_ORDER, zorder=1.5)
    for (index, _, found), day in zip(shown, days, strict=True):
        look, e = style.setup_style(index), found.estimate_m
        name = setup_label(analysis.setups[index].setup)
        ax.errorbar(
            [day],
            [e.value],
            yerr=[[e.value - e.lo95], [e.hi95 - e.value]],
            fmt=look.marker,
            color=look.dark,
            capsize=4,
            label=style.in_lines(name, 3.0),
            gid=f"tip:{name}: {value_and_interval(e, 'm')}",
            zorder=3,
        )
    locator = AutoDateLocator(maxticks=5)  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(
        ConciseDateFormatter(locator, formats=_TICKS, zero_formats=_TICKS, show_offset=False)  # type: ignore[no-untyped-call]
    )
    ax.margins(x=0.08)
    ax.set_xlabel(f"Date of the ride, {_years(shown)}")
    ax.set_ylabel("Rolling circumference [m]")
    legend_below(figure, ax.get_legend_handles_labels()[0], 1)
    return figure


def dated(analysis: Analysis) -> list[tuple[int, datetime, Circumference]]:
    """Return the setups with date and circumference, the earliest first."""
    found = [
        (index, datetime.fromtimestamp(result.ridden_unix_s, UTC), result.circumference)
        for index, result in enumerate(analysis.setups)
        if result.ridden_unix_s is not None and result.circumference is not None
    ]
    return sorted(found, key=lambda each: each[1])


def _years(shown: list[tuple[int, datetime, Circumference]]) -> str:
    first, last = shown[0][1].year, shown[-1][1].year
    return str(first) if first == last else f"{first} to {last}"


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "The circumference fitted to each setup, with its 95 % interval, over the date of the ride. Wear, pressure, "
        "load and another tyre all move it: 6 mm of tread on a wheel of 640 mm is 1.9 %."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    shown = [found.estimate_m for _, _, found in dated(analysis)]
    first, last = shown[0], shown[-1]
    if max(e.lo95 for e in shown) <= min(e.hi95 for e in shown):
        told = "The intervals of all setups overlap, so no change of the circumference is shown"
    elif first.hi95 < last.lo95 or last.hi95 < first.lo95:
        by_mm = 1000 * (last.value - first.value)
        told = f"The circumference {'fell' if by_mm < 0 else 'rose'} by {number(abs(by_mm), 0)} mm"
    else:
        told = "The circumference moved from setup to setup, and not beyond the intervals from the first to the last"
    parts = [
        f"{when:%d %B %Y}, {setup_label(analysis.setups[index].setup)}: {value_and_interval(found.estimate_m, 'm')}"
        for index, when, found in dated(analysis)
    ]
    return f"{told}. {'; '.join(parts)}."
