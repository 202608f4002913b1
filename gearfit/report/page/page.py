"""report.html: one self-contained page whose text is escaped throughout, and whole without its script."""

from __future__ import annotations

import base64
import hashlib
from importlib import resources

import jinja2

from gearfit.records.results import Analysis
from gearfit.report.figures.drawn import DrawnFigure
from gearfit.report.page import story, terms
from gearfit.report.page.evidence import Evidence
from gearfit.report.tables import explanations
from gearfit.report.tables import tables as page_tables
from gearfit.report.tables.cells import Table
from gearfit.report.tables.in_units import in_units, merged, merged_all, say
from gearfit.version import __version__


def page_text(analysis: Analysis, figures: list[DrawnFigure], files: list[str]) -> str:
    """Return the page.

    Parameters
    ----------
    analysis : Analysis
        What was found out.
    figures : list of DrawnFigure
        In reading order.
    files : list of str
        Names of the files that lie beside the page.

    Returns
    -------
    str
        HTML in UTF-8, style and pictures inside.
    """
    folder = resources.files("gearfit.report.page")
    environment = jinja2.Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    template = environment.from_string(folder.joinpath("page.html.j2").read_text(encoding="utf-8"))
    both = in_units(analysis)
    kmh, mph = both
    sections = _named(merged_all(page_tables.sections(kmh), page_tables.sections(mph)))
    cards = [(each.speed_unit, card) for each in both for card in page_tables.dash_cards(each)]
    key_figures = merged(page_tables.key_figures(kmh), page_tables.key_figures(mph))
    shown = {"key-figures": Evidence("Key figures", "key-figures")}
    shown |= {figure.name: Evidence(figure.title, figure.name) for figure in figures}
    shown |= {name: Evidence(table.title, table.name, table.about) for name, table in sections}
    headline = list(zip(page_tables.headline(analysis), _certainties(analysis), strict=True))
    answers = story.answers(both, shown)
    script = folder.joinpath("page.js").read_text(encoding="utf-8")
    return template.render(
        bike=analysis.bike.name or page_tables.NO_NAME,
        subtitle=page_tables.subtitle(analysis),
        unit=analysis.speed_unit,
        css=folder.joinpath("page.css").read_text(encoding="utf-8"),
        script=script,
        script_hash="sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
        answers=answers,
        further=story.further(both, shown),
        headline=headline,
        key_figures=key_figures,
        figures=figures,
        sections=sections,
        dash_cards=cards,
        meanings=[
            (say(*words_of), say(*meant))
            for words_of, meant in (
                zip(*pair, strict=True)
                for pair in zip(explanations.meanings(kmh), explanations.meanings(mph), strict=True)
            )
        ],
        terms=terms.meanings(),
        limits=explanations.LIMITS,
        cautions=explanations.CAUTIONS,
        files=files,
        version=__version__,
    )


def _certainties(analysis: Analysis) -> list[str]:
    """Return how sure the change of each headline is."""
    return [
        story.certainty(analysis, comparison.other)
        for comparison in analysis.comparisons
        if comparison.all_gears_change_percent is not None
    ]


def _named(tables: list[Table]) -> list[tuple[str, Table]]:
    """Give each table a name of its own: a second one of a kind has a number."""
    found: dict[str, Table] = {}
    for table in tables:
        further, name = 2, table.name
        while name in found:
            name, further = f"{table.name}-{further}", further + 1
        found[name] = table
    return list(found.items())
