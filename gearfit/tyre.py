"""Tyre size codes and the rolling circumference that they lead one to expect.

Overall diameter D = 2 H + d: the sidewall guides of tyre makers give 697.2 mm for 120/100-18. The rolling
circumference of a loaded tyre is smaller than pi D; UN GTR 15, Annex 7, paragraph 8 uses 3.05 D for passenger
cars. No motorcycle rule is published, so the middle of the two serves here, with a spread that covers both ends
and the difference between makes.
"""

from __future__ import annotations

import math
import re
from typing import Final

from gearfit.units import METRE_PER_INCH

#: Rolling circumference per overall diameter: the middle of 3.05 (GTR 15) and pi (no load).
CIRCUMFERENCE_PER_DIAMETER: Final = (3.05 + math.pi) / 2
#: Relative standard deviation of the rolling circumference known from a size code alone.
SIZE_CODE_RELATIVE_SD: Final = 0.02

_METRIC = re.compile(
    r"(?P<width>\d{2,3})/(?P<aspect>\d{2,3})\s*(?:-|[A-Z]{0,2}R|[A-Z]{0,2}B|\s)\s*(?P<rim>\d{2})(?!\d)",
    re.IGNORECASE,
)
_INCH = re.compile(r"(?P<width>\d\.\d{1,2})\s*(?:-|\s)\s*(?P<rim>\d{2})(?!\d)")


def overall_diameter_m(size: str) -> float:
    """Overall diameter of an unloaded tyre from its size code.

    Parameters
    ----------
    size : str
        Metric (`140/70-17`, `140/70 R17`, `150/70ZR17M/C 69W`) or inch (`4.00-18`; the section of a full-size
        inch tyre is as high as it is wide).

    Returns
    -------
    float
        Diameter in metres.

    Raises
    ------
    ValueError
        The code is not understood, or its numbers cannot be a road tyre; the message says what is allowed.
    """
    metric = _METRIC.match(size.strip())
    if metric:
        width_mm, aspect, rim_in = (int(metric[key]) for key in ("width", "aspect", "rim"))
        if not (50 <= width_mm <= 400 and 25 <= aspect <= 110 and 8 <= rim_in <= 24):
            raise ValueError(
                f"{size!r} cannot be a tyre; allowed are widths 50-400 mm, aspect ratios 25-110 %, rims 8-24 in"
            )
        return 2e-3 * width_mm * aspect / 100 + rim_in * METRE_PER_INCH
    inch = _INCH.match(size.strip())
    if inch:
        width_in, rim_in = float(inch["width"]), int(inch["rim"])
        if not (1.5 <= width_in <= 7 and 8 <= rim_in <= 24):
            raise ValueError(f"{size!r} cannot be a tyre; allowed are widths 1.5-7 in, rims 8-24 in")
        return (2 * width_in + rim_in) * METRE_PER_INCH
    raise ValueError(f"{size!r} is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18")


def nominal_circumference_m(size: str) -> float:
    """Return the rolling circumference in metres that a size code leads one to expect (see the module's text).

    Raises
    ------
    ValueError
        As `overall_diameter_m`.
    """
    return CIRCUMFERENCE_PER_DIAMETER * overall_diameter_m(size)
