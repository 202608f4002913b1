"""Where on the page the evidence for a finding stands."""

from __future__ import annotations

from typing import Final

from markupsafe import Markup

#: Beginning of a finding's code -> names of figures and tables, the most telling first.
PLACES: Final = {
    "clutch": ("speed-against-rpm", "ratio-histogram"),
    "change": ("change-per-gear", "changes"),
    "no-common-gear": ("ratio-histogram", "gears"),
    "speeds-at-rpm": ("speed-against-rpm", "gears"),
    "speedometer-gearbox-driven": ("change-per-gear", "changes"),
    "tooth-pairs": ("sprockets", "change-per-gear"),
    "tooth-pairs-of-ride": ("key-figures", "ratios-against-nominal"),
    "front-sprocket-guess": ("change-per-gear", "changes"),
    "gear-out-of-line": ("change-per-gear", "changes"),
    "gear-suspected": ("change-per-gear", "changes"),
    "circumference-unlikely": ("gears",),
    "gear-off-its-teeth": ("ratios-against-nominal", "gears"),
    "gear": ("ratio-histogram", "gears"),
    "no-gears": ("ratio-histogram", "speed-against-rpm"),
    "odd-row": ("odd-rows", "speed-against-rpm"),
    "same-number": ("speed-against-rpm", "ratios-against-nominal"),
    "timed": ("timed-runs", "timed-spans"),
    "run-left-out": ("runs-left-out",),
    "thrust": ("thrust", "thrust-curve"),
    "speedometer": ("speedometer-error", "speedometer"),
    "speed-from-positions": ("key-figures",),
    "circumference": ("key-figures", "circumference-history", "ratios-against-nominal"),
    "lag": ("key-figures",),
    "wish": ("key-figures", "changes"),
    "one-more-ride": ("timed-spans", "sprockets", "changes"),
    "recording": ("left-out",),
    "file": ("left-out",),
    "import": ("left-out",),
}
_MOST: Final = 2


def links(code: str, shown: dict[str, str]) -> Markup:
    """Return links to the evidence for a finding.

    Parameters
    ----------
    code : str
        Of the finding.
    shown : dict of str to str
        Titles of what the page shows, by name.
    """
    matching = [start for start in PLACES if code.startswith(start)]
    places = PLACES[max(matching, key=len)] if matching else ()
    found = [name for name in places if name in shown][:_MOST]
    return Markup(", ").join(Markup('<a href="#{}">{}</a>').format(name, shown[name]) for name in found)
