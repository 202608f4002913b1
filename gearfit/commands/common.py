"""Options that several commands have."""

from __future__ import annotations

import argparse
from typing import Final

#: Rules as `gearfit.speedometer.rules` knows them (whose package loads numpy).
REGULATIONS: Final = ("UNECE R39", "49 CFR 393.82", "none")


#: What counts where --units is not given: kmh, that of the sheets, or that of the first speed with a unit.
ELSE_KMH: Final = "kmh"
ELSE_AS_SHEETS: Final = "that of the sheets, else kmh"
ELSE_AS_ASKED: Final = "that of the first speed that states one, else kmh"


def add_units(parser: argparse.ArgumentParser, what: str, otherwise: str = ELSE_KMH) -> None:
    """Add the option for the unit of speed; `what` it is the unit of, `otherwise` one of the three above."""
    default = "kmh" if otherwise == ELSE_KMH else None
    parser.add_argument("--units", choices=("kmh", "mph"), default=default, help=f"unit {what} (default: {otherwise})")


def add_regulation(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the rule."""
    parser.add_argument(
        "--regulation", choices=REGULATIONS, help="rule for the speedometer (default: that of bike.toml, else none)"
    )


def add_no_positions(parser: argparse.ArgumentParser) -> None:
    """Add the option that keeps positions out of what is written."""
    parser.add_argument(
        "--no-positions",
        dest="positions",
        action="store_false",
        help="leave out every position: no report shows where it was ridden",
    )
