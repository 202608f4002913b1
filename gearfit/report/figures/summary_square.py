"""The summary picture as a square of 1080 x 1080 pixels, for a post that is read on a phone."""

from __future__ import annotations

from typing import Final

from matplotlib.figure import Figure

from gearfit.records import words
from gearfit.records.results import Analysis
from gearfit.report.figures import change_per_gear, speed_against_rpm, style, summary_several
from gearfit.report.figures.style import in_our_style
from gearfit.report.figures.summary_facts import facts
from gearfit.report.figures.summary_picture import BACKGROUND, DPI, EDGE, SCALE, axes_in, dress, rule
from gearfit.report.figures.text_box import Box, put_text
from gearfit.report.tables import tables as page_tables
from gearfit.report.tables.tables import NO_NAME, subtitle

SIDE_PX: Final = 1080
_INNER: Final = SIDE_PX - 2 * EDGE
_FACTS: Final = 2


@in_our_style
def draw(analysis: Analysis) -> Figure:
    """Draw name, big number, the answer, a plot and up to two facts."""
    figure = style.new_figure(SIDE_PX / DPI, SIDE_PX / DPI)
    figure.set_layout_engine("none")
    figure.set_facecolor(BACKGROUND)
    put_text(figure, Box(EDGE, 36, _INNER, 70), analysis.bike.name or NO_NAME, 38, smallest_pt=18, weight="bold")
    put_text(figure, Box(EDGE, 108, _INNER, 46), subtitle(analysis), 23, smallest_pt=16, colour=style.SOFT_INK)
    rule(figure, 170)
    _answer(figure, analysis)
    _plot(figure, analysis)
    rule(figure, 900)
    width = _INNER / _FACTS
    for place, fact in enumerate(facts(analysis)[:_FACTS]):
        left = EDGE + place * width
        put_text(figure, Box(left, 908, width - 24, 36), fact.label, 19, smallest_pt=14, colour=style.SOFT_INK)
        put_text(figure, Box(left, 944, width - 24, 54), fact.number, 30, smallest_pt=20, weight="bold")
        put_text(figure, Box(left, 1000, width - 24, 64), fact.beside, 18, smallest_pt=13)
    return figure


def _answer(figure: Figure, analysis: Analysis) -> None:
    several = len(summary_several.shown(analysis))
    if several > 1:
        summary_several.put_changes(figure, analysis, Box(EDGE, 180, _INNER, 115.0 * several))
        return
    line = next(iter(page_tables.headline(analysis)), None)
    if line is None:
        if analysis.findings:
            put_text(figure, Box(EDGE, 186, _INNER, 230), analysis.findings[0].text, 26, smallest_pt=17)
        return
    put_text(figure, Box(EDGE, 182, _INNER, 44), line.label, 21, smallest_pt=15)
    put_text(figure, Box(EDGE, 226, 460, 150), line.number, 68, weight="bold")
    beside = Box(EDGE + 480, 246, _INNER - 480, 70)
    put_text(figure, beside, line.interval.replace(" to ", f"{words.TIE}to{words.TIE}"), 22, smallest_pt=15)
    put_text(figure, Box(beside.left, 322, beside.width, 70), line.prediction, 22, smallest_pt=15)


def _plot(figure: Figure, analysis: Analysis) -> None:
    several = len(summary_several.shown(analysis))
    if several > 1:
        top = 215 + 115 * several
        for ax in summary_several.strips(figure, analysis, Box(EDGE + 110, top, _INNER - 130, 815 - top)):
            dress(ax)
        return
    comparison = next((c for c in analysis.comparisons if c.gears), None)
    if comparison is not None:
        ax = axes_in(figure, Box(EDGE + 110, 420, _INNER - 130, 390))
        change_per_gear.draw_panel(ax, comparison, change_per_gear.index_of(analysis, comparison), scale=SCALE)
        ax.set_ylabel("Change in each gear [%]")
        dress(ax)
    elif any(result.samples["ln_ratio"].notna().any() for result in analysis.setups):
        ax = axes_in(figure, Box(EDGE + 110, 430, _INNER - 170, 370))
        speed_against_rpm.draw_panel(ax, analysis, 0)
        ax.set_ylabel(f"Speed [{words.speed_label(analysis.speed_unit)}]")
        dress(ax)
    else:
        for place, finding in enumerate(analysis.findings[1:4]):
            put_text(figure, Box(EDGE, 430 + 150 * place, _INNER, 136), finding.text, 22, smallest_pt=15)
