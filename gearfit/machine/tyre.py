"""Tyre size codes and the rolling circumference that they lead one to expect.

Overall diameter D = 2 H + d: the sidewall guides of tyre makers give 697.2 mm for 120/100-18. The rolling
circumference of a loaded tyre is smaller than pi D; UN GTR 15, Annex 7, paragraph 8 uses 3.05 D for passenger
cars. No motorcycle rule is published, so the middle of the two serves here, with a spread that covers both ends
and the difference between makes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from gearfit.units import METRE_PER_INCH

#: Rolling circumference per overall diameter: the lower end (GTR 15), the middle, and the upper end (no load).
LOADED_PER_DIAMETER: Final = 3.05
CIRCUMFERENCE_PER_DIAMETER: Final = (LOADED_PER_DIAMETER + math.pi) / 2
#: Relative standard deviation of the rolling circumference known from a size code alone.
SIZE_CODE_RELATIVE_SD: Final = 0.02

#: Aspect ratio of inch codes without one, per cent: a full section is as high as it is wide; widths that end in .10 or
#: .60 are low sections (a tyre maker's guide for 4.10; the other widths of the series from memory).
_FULL_SECTION: Final = 100.0
_LOW_SECTION: Final = 90.0
_LOW_SECTION_HUNDREDTHS: Final = (10, 60)
#: Letter codes with a metric equal (width mm, aspect ratio %): MT90 from a guide for owners, the others of its series
#: from memory, as tyre makers' conversion tables have them. Codes of other aspect ratios have no agreed equal.
_LETTERS: Final = {
    f"{letters}90": (width, 90.0)
    for letters, width in (
        ("MH", 80.0),
        ("MJ", 90.0),
        ("MM", 100.0),
        ("MN", 110.0),
        ("MR", 120.0),
        ("MT", 130.0),
        ("MU", 140.0),
    )
}

#: Letters that stand for a speed (symbols of speed categories, from memory: never I, O or X, and A with a digit only).
_SPEED: Final = "[B-HJ-NP-WYZ]"
_BEFORE_RIM: Final = rf"\s*(?:-|{_SPEED}{{0,2}}R|{_SPEED}{{0,2}}B|{_SPEED}|\s)\s*(?P<rim>\d{{2}})(?!\d|[.,]\d)"
_METRIC = re.compile(r"(?P<width>\d{2,3})/(?P<aspect>\d{2,3})" + _BEFORE_RIM, re.IGNORECASE)
_INCH = re.compile(r"(?P<width>\d\.\d{1,2})(?:/(?P<aspect>\d{2,3}))?" + _BEFORE_RIM, re.IGNORECASE)
_LETTER = re.compile(r"(?P<code>M[A-Z]\d{2})" + _BEFORE_RIM, re.IGNORECASE)


@dataclass(frozen=True)
class TyreSize:
    """What a size code says.

    Attributes
    ----------
    code : str
        As written.
    width_mm : float
        Nominal section width.
    aspect_percent : float
        Section height over section width.
    rim_in : int
        Nominal diameter of the rim.
    series : str
        "metric", "inch", "low-section inch" or "letters".
    """

    code: str
    width_mm: float
    aspect_percent: float
    rim_in: int
    series: str

    @property
    def overall_diameter_m(self) -> float:
        """Diameter without load, two section heights and the rim."""
        return 2e-3 * self.width_mm * self.aspect_percent / 100 + self.rim_in * METRE_PER_INCH

    @property
    def unloaded_circumference_m(self) -> float:
        """Circumference on paper, pi D: the upper end; makers' and shops' tables give this one."""
        return math.pi * self.overall_diameter_m

    @property
    def loaded_circumference_m(self) -> float:
        """Circumference as UN GTR 15 reckons it for passenger cars, 3.05 D: the lower end."""
        return LOADED_PER_DIAMETER * self.overall_diameter_m

    @property
    def rolling_circumference_m(self) -> float:
        """Rolling circumference to expect, the middle of both ends."""
        return CIRCUMFERENCE_PER_DIAMETER * self.overall_diameter_m


#: Rolling circumferences of motorcycle wheels lie between, m: tyres of 2.50-10 and of 80/100-23, with a tenth to spare
#: (our assumption).
_LEAST_LIKELY_M: Final = 1.1
_MOST_LIKELY_M: Final = 2.6


def tyre_size(code: str) -> TyreSize:
    """Read a size code.

    Parameters
    ----------
    code : str
        Metric (`140/70-17`, `140/70 R17`, `150/70ZR17M/C 69W`), inch (`4.00-18`), low-section inch (`4.10-19`,
        `4.25/85-18`) or letters (`MT90-16`). What follows the rim (M/C, load and speed) does not matter here.

    Raises
    ------
    ValueError
        The code is not understood, or its numbers cannot be a road tyre; the message says what is allowed.
    """
    text = code.strip()
    if metric := _METRIC.match(text):
        width, aspect, rim_in = (int(metric[key]) for key in ("width", "aspect", "rim"))
        if not (50 <= width <= 400 and 25 <= aspect <= 110 and 8 <= rim_in <= 24):
            raise ValueError(
                f"{code!r} cannot be a tyre; allowed are widths 50-400 mm, aspect ratios 25-110 %, rims 8-24 in"
            )
        return TyreSize(text, width, aspect, rim_in, "metric")
    if inch := _INCH.match(text):
        return _inch_size(code, text, float(inch["width"]), inch["aspect"], int(inch["rim"]))
    if letters := _LETTER.match(text):
        return _letter_size(code, text, letters["code"].upper(), int(letters["rim"]))
    raise ValueError(f"{code!r} is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18")


def _inch_size(code: str, text: str, width_in: float, aspect: str | None, rim_in: int) -> TyreSize:
    low = round(100 * width_in) % 100 in _LOW_SECTION_HUNDREDTHS
    percent = float(aspect) if aspect else _LOW_SECTION if low else _FULL_SECTION
    if not (1.5 <= width_in <= 7 and 8 <= rim_in <= 24):
        raise ValueError(f"{code!r} cannot be a tyre; allowed are widths 1.5-7 in, rims 8-24 in")
    if not 50 <= percent <= 110:
        raise ValueError(f"{code!r} cannot be a tyre; allowed are aspect ratios 50-110 % behind a width in inches")
    series = "low-section inch" if percent < _FULL_SECTION else "inch"
    return TyreSize(text, 1000 * METRE_PER_INCH * width_in, percent, rim_in, series)


def _letter_size(code: str, text: str, letters: str, rim_in: int) -> TyreSize:
    if letters not in _LETTERS:
        raise ValueError(
            f"{code!r} is a letter code without a metric equal known here; allowed are {', '.join(_LETTERS)}, or the "
            "metric size that stands beside it on the sidewall or in the papers"
        )
    if not 8 <= rim_in <= 24:
        raise ValueError(f"{code!r} cannot be a tyre; allowed are rims 8-24 in")
    width, aspect = _LETTERS[letters]
    return TyreSize(text, width, aspect, rim_in, "letters")


def overall_diameter_m(size: str) -> float:
    """Overall diameter in metres of an unloaded tyre from its size code.

    Raises
    ------
    ValueError
        As `tyre_size`.
    """
    return tyre_size(size).overall_diameter_m


def nominal_circumference_m(size: str) -> float:
    """Return the rolling circumference in metres that a size code leads one to expect (see the module's text).

    Raises
    ------
    ValueError
        As `tyre_size`.
    """
    return tyre_size(size).rolling_circumference_m


def likely(circumference_m: float) -> bool:
    """Tell whether a road motorcycle's wheel may roll so far in a turn: scooters of 10 inches to 23-inch rims."""
    return _LEAST_LIKELY_M <= circumference_m <= _MOST_LIKELY_M
