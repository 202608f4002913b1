"""Where on the page the evidence for a finding stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from markupsafe import Markup

from gearfit.records.results import Finding
from gearfit.report.page.codes import CODES

_MOST: Final = 2


class Evidence(NamedTuple):
    """A figure or table of the page: its title, what kind it is, and which setup alone it shows, if any."""

    title: str
    kind: str
    about: str = ""


#: What the page shows, by name.
Shown = Mapping[str, Evidence]


def links(finding: Finding, shown: Shown) -> Markup:
    """Return links to the evidence for a finding: of tables of one kind, that of its own setup."""
    found = [name for kind in CODES[finding.code].evidence for name in _of_kind(kind, finding.about, shown)][:_MOST]
    return Markup(", ").join(Markup('<a href="#{}">{}</a>').format(name, shown[name].title) for name in found)


def _of_kind(kind: str, about: str, shown: Shown) -> Iterator[str]:
    """Yield one name at most; what shows another setup alone is no evidence."""
    names = [name for name, place in shown.items() if place.kind == kind and (place.about in ("", about) or not about)]
    yield from names[:1]
