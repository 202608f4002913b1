"""Motorcycle gearing from ride logs, before and after a change of the final drive.

A ride folder::

    analysis = gearfit.analyse("my-bike")
    print(analysis["before"].summary())
    gearfit.write_report(analysis, "my-bike/report")

Arrays::

    found = gearfit.fit(speed_mps=v, engine_rpm=n, time_s=t)
    print(found.summary())

Each public name is loaded when it is first used, so that a short command does not wait for what it does not need.
"""

from typing import TYPE_CHECKING

from gearfit.version import __version__

if TYPE_CHECKING:
    from gearfit.errors import GearfitError
    from gearfit.findings.analysis import analyse
    from gearfit.findings.arrays import fit
    from gearfit.importers import read_folder, read_log
    from gearfit.machine.bike import Bike, Setup
    from gearfit.machine.bike_file import read_bike
    from gearfit.prediction.basis import Gearing, on_paper, ridden
    from gearfit.prediction.swap import SwapPrediction, predict, refitted
    from gearfit.records.results import (
        Analysis,
        Circumference,
        Comparison,
        Estimate,
        Finding,
        FittedPairs,
        GearChange,
        GearResult,
        SetupResult,
        SpanComparison,
        Speedometer,
        SpeedometerPoint,
        SprocketCheck,
        SprocketPair,
        TimedSpan,
    )
    from gearfit.report import write_report
    from gearfit.timed.asked import Span
else:
    _HOMES = {
        "gearfit.findings.analysis": ("analyse",),
        "gearfit.findings.arrays": ("fit",),
        "gearfit.machine.bike": ("Bike", "Setup"),
        "gearfit.machine.bike_file": ("read_bike",),
        "gearfit.errors": ("GearfitError",),
        "gearfit.importers": ("read_folder", "read_log"),
        "gearfit.prediction.basis": ("Gearing", "on_paper", "ridden"),
        "gearfit.prediction.swap": ("SwapPrediction", "predict", "refitted"),
        "gearfit.report": ("write_report",),
        "gearfit.records.results": (
            "Analysis",
            "Circumference",
            "Comparison",
            "Estimate",
            "Finding",
            "FittedPairs",
            "GearChange",
            "GearResult",
            "SetupResult",
            "SpanComparison",
            "Speedometer",
            "SpeedometerPoint",
            "SprocketCheck",
            "SprocketPair",
            "TimedSpan",
        ),
        "gearfit.timed.asked": ("Span",),
    }

    def __getattr__(name):  # noqa: ANN001, ANN202
        """Load a public name from the module that it lives in."""
        from importlib import import_module

        for home, names in _HOMES.items():
            if name in names:
                return globals().setdefault(name, getattr(import_module(home), name))
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

    def __dir__():  # noqa: ANN202
        """List the public names, loaded or not."""
        return sorted(__all__)


__all__ = [
    "Analysis",
    "Bike",
    "Circumference",
    "Comparison",
    "Estimate",
    "Finding",
    "FittedPairs",
    "GearChange",
    "GearResult",
    "GearfitError",
    "Gearing",
    "Setup",
    "SetupResult",
    "Span",
    "SpanComparison",
    "Speedometer",
    "SpeedometerPoint",
    "SprocketCheck",
    "SprocketPair",
    "SwapPrediction",
    "TimedSpan",
    "__version__",
    "analyse",
    "fit",
    "on_paper",
    "predict",
    "read_bike",
    "read_folder",
    "read_log",
    "refitted",
    "ridden",
    "write_report",
]
