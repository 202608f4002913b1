"""What the summary picture shows of more than two setups: each change with its number and its strip."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records import words
from gearfit.records.results import Analysis, Comparison
from gearfit.report.figures import change_per_gear, style
from gearfit.report.figures.text_box import Box, put_text
from gearfit.report.tables import tables as page_tables

#: Comparisons in one picture; the page has all.
MOST: Final = 3
_SCALE: Final = 1.5
_WIDE_PX: Final = 600


def shown(analysis: Analysis) -> list[Comparison]:
    """Return the comparisons that the picture shows."""
    return change_per_gear.compared(analysis)[:MOST]


def said(analysis: Analysis) -> str:
    """Return the sentences that answer: of each comparison the first about its change, else the first of all."""
    found: list[str] = []
    for comparison in shown(analysis) if len(shown(analysis)) > 1 else []:
        of_it = [f for f in analysis.findings if f.about == comparison.other and f.code.startswith("change-")]
        found += [finding.text for finding in of_it[:1]]
    return " ".join(found) or next((finding.text for finding in analysis.findings), "")


def put_changes(figure: Figure, analysis: Analysis, box: Box) -> None:
    """Write each change, and beside or below it its interval and what the tooth counts say."""
    lines = page_tables.headline(analysis)[:MOST]
    height = box.height / max(len(lines), 1)
    wide = box.width > _WIDE_PX
    left = box.left + (0.46 * box.width if wide else 0)
    for place, line in enumerate(lines):
        top = box.top + place * height
        at = [(0.3, 0.3), (0.6, 0.3)] if wide else [(0.64, 0.15), (0.8, 0.15)]
        put_text(figure, Box(box.left, top, box.width, 0.28 * height), line.label, 18, smallest_pt=13)
        number = Box(box.left, top + 0.28 * height, 0.46 * box.width if wide else box.width, 0.36 * height)
        put_text(figure, number, line.number, 40, smallest_pt=24, weight="bold")
        interval = line.interval.replace(" to ", f"{words.TIE}to{words.TIE}")
        for text, (share, high) in zip((interval, line.prediction), at, strict=True):
            place_of = Box(left, top + share * height, box.left + box.width - left, high * height)
            put_text(figure, place_of, text, 18, smallest_pt=12)


def strips(figure: Figure, analysis: Analysis, box: Box) -> list[Axes]:
    """Draw each change as a strip within a place given in pixels, the last with its scale of gears."""
    comparisons = shown(analysis)
    width, height = figure.get_size_inches() * figure.dpi
    gap = 46.0
    each = (box.height - gap * (len(comparisons) - 1)) / len(comparisons)
    axes = []
    for place, comparison in enumerate(comparisons):
        top = box.top + place * (each + gap)
        ax = figure.add_axes((box.left / width, 1 - (top + each) / height, box.width / width, each / height))
        index = change_per_gear.index_of(analysis, comparison)
        change_per_gear.draw_panel(ax, comparison, index, scale=_SCALE, legend=False)
        name, *rest = style.in_lines(comparison.other, box.width / figure.dpi / 1.8).split("\n")
        ax.set_title(f"{name} …" if rest else name, fontsize=18)
        ax.set_ylabel("[%]")
        if place < len(comparisons) - 1:
            ax.set_xlabel("")
            ax.tick_params(labelbottom=False)
        axes.append(ax)
    change_per_gear.one_scale(axes)
    return axes
