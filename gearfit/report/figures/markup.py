"""A figure as part of the page: an SVG whose colours and words follow the page."""

from __future__ import annotations

import re
from typing import Final

from gearfit.report.figures import both_units, style

#: Colours that the page turns light or dark, by the name that the style sheet gives them.
_NAMES: Final = {
    style.INK: "ink",
    style.SOFT_INK: "soft",
    style.RULE: "grid",
    style.LEFT_OUT: "left-out",
    style.PAPER: "card",
}
_COLOURS: Final = _NAMES | {
    colour: f"{tone}-{index}"
    for index, look in enumerate(style.SETUP_STYLES)
    for tone, colour in (("dark", look.dark), ("light", look.light))
}
_HEAD: Final = re.compile(r"^.*?<svg [^>]*?viewBox=\"([^\"]*)\"[^>]*>", re.DOTALL)
_STYLE: Final = re.compile(r"<defs>\s*<style.*?</style>\s*</defs>", re.DOTALL)
#: Marks whose id says what they show, as `TIP` and the words: a pointer and the keyboard find them.
TIP: Final = "tip:"
_TIP: Final = re.compile(rf'<g id="{TIP}([^"]*)">')
_MARKED: Final = '<g tabindex="0" role="img">'
#: Groups that are shown in one unit of speed only, whose id is `both_units.UNIT` and the unit.
_OF_UNIT: Final = re.compile(rf'<g id="{both_units.UNIT}([^"]*)"')
_GROUP: Final = re.compile(r'<g id="[^"]*"')
_LINK: Final = re.compile(r'(\bid="|xlink:href="#|url\(#)')
#: Paths, and digits in them that nobody sees: a hundredth of a point is 3.5 micrometres.
_PATH: Final = re.compile(r'(?<= d=")[^"]*')
_UNSEEN: Final = re.compile(r"(?<=\.\d\d)\d+")
_BLANK: Final = re.compile(r"\s*\n\s*")


def inline(svg: bytes, name: str, described_by: str) -> str:
    """Return the SVG of a figure for use within the page.

    Parameters
    ----------
    svg : bytes
        As `style.svg_bytes` returns it.
    name : str
        Put before each id, as ids are to be unique in the page.
    described_by : str
        Id of the element that holds the words for those who cannot see it.
    """
    text = _STYLE.sub("", svg.decode("utf-8"), count=1)
    head = _HEAD.match(text)
    if head is None:
        raise ValueError("not an SVG with a viewBox")
    groups = _OF_UNIT.sub(r'<g class="\1"', _marked(text[head.end() :]))
    body = _LINK.sub(rf"\g<1>{name}-", _GROUP.sub("<g", groups))
    body = _PATH.sub(lambda path: _UNSEEN.sub("", path[0]), body)
    for colour, variable in _COLOURS.items():
        body = body.replace(colour, f"var(--{variable})")
    body = body.replace(f"'{style.FONT}'", "var(--sans)")
    role = "group" if _MARKED in body else "img"
    return f'<svg viewBox="{head[1]}" role="{role}" aria-labelledby="{described_by}">{_BLANK.sub(" ", body).strip()}'


def _marked(body: str) -> str:
    """Give each mark its words; of parts with the same words (a mark, its error bar) the first takes the keyboard."""
    said: set[str] = set()

    def group(tip: re.Match[str]) -> str:
        opened = "<g>" if tip[1] in said else _MARKED
        said.add(tip[1])
        return f"{opened}<title>{tip[1]}</title>"

    return _TIP.sub(group, body)
