"""Motorcycle gearing from ride logs, before and after a change of the final drive.

Three steps do the whole job::

    folder = gearfit.read_folder("my-bike")
    analysis = gearfit.analyse(folder)
    gearfit.write_report(analysis, "my-bike/report")
"""

from gearfit.analysis import analyse
from gearfit.bike import Bike, Setup
from gearfit.bike_file import read_bike
from gearfit.errors import GearfitError
from gearfit.importers import read_folder, read_log
from gearfit.report import write_report
from gearfit.results import (
    Analysis,
    Circumference,
    Comparison,
    Estimate,
    Finding,
    GearChange,
    GearResult,
    SetupResult,
    SpanComparison,
    SprocketPair,
    TimedSpan,
)
from gearfit.version import __version__

__all__ = [
    "Analysis",
    "Bike",
    "Circumference",
    "Comparison",
    "Estimate",
    "Finding",
    "GearChange",
    "GearResult",
    "GearfitError",
    "Setup",
    "SetupResult",
    "SpanComparison",
    "SprocketPair",
    "TimedSpan",
    "__version__",
    "analyse",
    "read_bike",
    "read_folder",
    "read_log",
    "write_report",
]
