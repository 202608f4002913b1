"""report.html: one self-contained page without script, whose text is escaped throughout."""

from __future__ import annotations

from importlib import resources
from typing import Final

import jinja2

from gearfit import words
from gearfit.report import explanations, page_tables
from gearfit.report.figures import DrawnFigure
from gearfit.results import Analysis
from gearfit.version import __version__

#: What a finding's severity is called, and its sign.
SEVERITIES: Final = {"note": ("●", "Finding"), "warning": ("▲", "Check this")}
NO_NAME: Final = "Motorcycle without a name"


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
    folder = resources.files("gearfit.report")
    environment = jinja2.Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    template = environment.from_string(folder.joinpath("page.html.j2").read_text(encoding="utf-8"))
    return template.render(
        bike=analysis.bike.name or NO_NAME,
        subtitle=subtitle(analysis),
        css=folder.joinpath("page.css").read_text(encoding="utf-8"),
        findings=[(*SEVERITIES[finding.severity], finding) for finding in analysis.findings],
        headline=page_tables.headline(analysis),
        key_figures=page_tables.key_figures(analysis),
        figures=figures,
        sections=page_tables.sections(analysis),
        dash_cards=page_tables.dash_cards(analysis),
        meanings=explanations.meanings(analysis),
        limits=explanations.LIMITS,
        cautions=explanations.CAUTIONS,
        files=files,
        version=__version__,
    )


def subtitle(analysis: Analysis) -> str:
    """Name the setups, reference first, with their tooth counts."""
    return " → ".join(words.setup_label(result.setup) for result in analysis.setups)
