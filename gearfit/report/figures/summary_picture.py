"""summary.png and summary.svg: the story in one picture, wide (16:9) or square."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from gearfit.records import words
from gearfit.records.results import Analysis, Comparison, SetupResult
from gearfit.report.figures import change_per_gear, speed_against_rpm, style, summary_several
from gearfit.report.figures.style import in_our_style
from gearfit.report.figures.summary_facts import Fact, facts
from gearfit.report.figures.text_box import Box, put_text
from gearfit.report.tables import tables as page_tables
from gearfit.report.tables.tables import NO_NAME, change_of, subtitle

WIDTH_PX: Final = 1920
HEIGHT_PX: Final = 1080
DPI: Final = 100
BACKGROUND: Final = "#fbfaf7"
EDGE: Final = 64.0
SCALE: Final = 1.9
_TIED_TO: Final = f"{words.TIE}to{words.TIE}"


def png(figure: Figure) -> bytes:
    """Return the picture as PNG."""
    return style.png_bytes(figure, DPI)


def svg(figure: Figure) -> bytes:
    """Return the picture as SVG with its letters drawn, as nobody knows which letters the reader has."""
    return style.svg_bytes(figure, letters="path")


@in_our_style
def draw(analysis: Analysis) -> Figure:
    """Draw name, answer, big number, a plot, the table of gears and up to four facts."""
    figure = style.new_figure(WIDTH_PX / DPI, HEIGHT_PX / DPI)
    figure.set_layout_engine("none")
    figure.set_facecolor(BACKGROUND)
    inner = WIDTH_PX - 2 * EDGE
    put_text(figure, Box(EDGE, 44, inner, 72), analysis.bike.name or NO_NAME, 40, smallest_pt=18, weight="bold")
    put_text(figure, Box(EDGE, 118, inner, 48), subtitle(analysis), 24, smallest_pt=18, colour=style.SOFT_INK)
    if analysis.findings:
        put_text(figure, Box(EDGE, 184, inner, 140), summary_several.said(analysis), 28, smallest_pt=17)
    rule(figure, 336)
    comparison = next((c for c in analysis.comparisons if c.gears), None)
    if comparison is None:
        _without_comparison(figure, analysis)
    elif len(summary_several.shown(analysis)) > 1:
        _with_several(figure, analysis)
    else:
        _with_comparison(figure, analysis, comparison)
    rule(figure, 850)
    _facts(figure, facts(analysis))
    return figure


def _with_comparison(figure: Figure, analysis: Analysis, comparison: Comparison) -> None:
    left = Box(EDGE, 362, 430, 460)
    line = next(iter(page_tables.headline(analysis)), None)
    if line is not None:
        put_text(figure, Box(left.left, left.top, left.width, 116), line.label, 22, smallest_pt=15)
        put_text(figure, Box(left.left, left.top + 126, left.width, 130), line.number, 62, weight="bold")
        put_text(
            figure,
            Box(left.left, left.top + 262, left.width, 84),
            line.interval.replace(" to ", _TIED_TO),
            22,
            smallest_pt=15,
        )
        put_text(figure, Box(left.left, left.top + 352, left.width, 100), line.prediction, 23, smallest_pt=15)
    ax = axes_in(figure, Box(640, 372, 600, 380))
    change_per_gear.draw_panel(ax, comparison, change_per_gear.index_of(analysis, comparison), scale=SCALE)
    ax.set_ylabel("Change in each gear [%]")
    dress(ax)
    _gear_table(figure, analysis, comparison, Box(1290, 366, WIDTH_PX - EDGE - 1290, 460))


def _with_several(figure: Figure, analysis: Analysis) -> None:
    summary_several.put_changes(figure, analysis, Box(EDGE, 362, 470, 460))
    for ax in summary_several.strips(figure, analysis, Box(680, 386, 560, 380)):
        dress(ax)
    _gear_table(figure, analysis, None, Box(1290, 366, WIDTH_PX - EDGE - 1290, 460))


def _without_comparison(figure: Figure, analysis: Analysis) -> None:
    if any(result.samples["ln_ratio"].notna().any() for result in analysis.setups):
        ax = axes_in(figure, Box(190, 372, 1000, 380))
        speed_against_rpm.draw_panel(ax, analysis, 0)
        ax.set_ylabel(f"Speed [{words.speed_label(analysis.speed_unit)}]")
        dress(ax)
    else:
        for place, finding in enumerate(analysis.findings[1:4]):
            put_text(figure, Box(EDGE, 366 + 156 * place, 1140, 140), finding.text, 24, smallest_pt=16)
    _gear_table(figure, analysis, None, Box(1290, 366, WIDTH_PX - EDGE - 1290, 460))


def _gear_table(figure: Figure, analysis: Analysis, comparison: Comparison | None, box: Box) -> None:
    """Write one row per gear: speed per 1000 rpm in each setup, and the change of two."""
    names = [result.setup.name for result in analysis.setups[: summary_several.MOST + 1]]
    names = names if comparison is None else [comparison.reference, comparison.other]
    shown = [result for name in names for result in analysis.setups if result.setup.name == name]
    gears = sorted({gear.gear for result in shown for gear in result.gears})
    if not gears:
        put_text(figure, box, "No gears found.", 24)
        return
    unit = words.speed_label(analysis.speed_unit)
    put_text(figure, Box(box.left, box.top, box.width, 44), f"{unit} per 1000 rpm", 21, colour=style.SOFT_INK)
    step = min(50.0, (box.height - 92) / len(gears))
    names = [result.setup.name for result in shown]
    lines = [["gear", *names, *(["change"] if comparison else [])]]
    for gear in gears:
        line = [str(gear), *(_speed(result, gear, analysis.speed_unit) for result in shown)]
        if comparison is not None:
            change = change_of(comparison, gear)
            line.append(f"{words.value(change.change_percent if change else None, signed=True)}{words.TIE}%")
        lines.append(line)
    _table_lines(figure, Box(box.left, box.top + 44, box.width, box.height - 44), lines, step)


def _table_lines(figure: Figure, box: Box, lines: list[list[str]], step: float) -> None:
    """Write a head and its rows, the first column narrow and to the left, the last wide."""
    last = 1.35 if lines[0][-1] == "change" else 1.0
    shares = [0.6, *([1.0] * (len(lines[0]) - 2)), last]
    edges = [box.left + box.width * sum(shares[:column]) / sum(shares) for column in range(len(shares) + 1)]
    for number, line in enumerate(lines):
        size_pt, colour = (18, style.SOFT_INK) if number == 0 else (min(22.0, step / 2), style.INK)
        for column, text in enumerate(line):
            place = Box(edges[column], box.top + number * step, edges[column + 1] - edges[column] - 8, 44)
            align = "right" if column else "left"
            put_text(figure, place, text, size_pt, smallest_pt=13, colour=colour, align=align)


def _speed(result: SetupResult, gear: int, unit: str) -> str:
    found = next((known for known in result.gears if known.gear == gear), None)
    return words.NOTHING if found is None else words.number(words.in_unit(found.speed_per_1000rpm_mps, unit).value)


def _facts(figure: Figure, shown: list[Fact]) -> None:
    width = (WIDTH_PX - 2 * EDGE) / max(len(shown), 3)
    for place, fact in enumerate(shown):
        left = EDGE + place * width
        put_text(figure, Box(left, 868, width - 28, 40), fact.label, 19, smallest_pt=14, colour=style.SOFT_INK)
        put_text(figure, Box(left, 908, width - 28, 60), fact.number, 32, smallest_pt=20, weight="bold")
        put_text(figure, Box(left, 970, width - 28, 76), fact.beside, 19, smallest_pt=14)


def axes_in(figure: Figure, box: Box) -> Axes:
    """Return axes in a place given in pixels."""
    width, height = figure.get_size_inches() * DPI
    return figure.add_axes(
        (box.left / width, 1 - (box.top + box.height) / height, box.width / width, box.height / height)
    )


def dress(ax: Axes) -> None:
    """Make the words of axes large enough for a phone."""
    ax.set_facecolor(BACKGROUND)
    ax.tick_params(labelsize=19)
    ax.xaxis.label.set_fontsize(20)
    ax.yaxis.label.set_fontsize(20)
    for text in ax.texts:
        text.set_fontsize(max(float(text.get_fontsize()), 17.0))


def rule(figure: Figure, top: float) -> None:
    """Draw a level line across the picture."""
    width, height = figure.get_size_inches() * DPI
    y = 1 - top / height
    ends = [EDGE / width, 1 - EDGE / width]
    figure.add_artist(Line2D(ends, [y, y], transform=figure.transFigure, color=style.RULE, linewidth=2))
