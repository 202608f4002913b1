"""What the table over all rides says of one: a row for each setup."""

from __future__ import annotations

from typing import Final, TypeAlias

from gearfit.comparison.shift import as_predicted
from gearfit.records.estimate import Estimate
from gearfit.records.results import Analysis, Comparison, SetupResult

Cell: TypeAlias = "str | int | float | None"
Row: TypeAlias = dict[str, Cell]

#: Column -> heading for people.
COLUMNS: Final = {
    "ride": "Ride folder",
    "status": "Status",
    "bike": "Bike",
    "setup": "Setup",
    "front": "Front",
    "rear": "Rear",
    "gears": "Gears",
    "samples_in_gear": "Samples in gear",
    "circumference_m": "Circumference [m]",
    "circumference_m_lo95": "from",
    "circumference_m_hi95": "to",
    "circumference_nominal_m": "By the tyre [m]",
    "change_percent": "Change [%]",
    "change_percent_lo95": "from",
    "change_percent_hi95": "to",
    "predicted_percent": "Tooth counts say [%]",
    "change_verdict": "Change and teeth",
    "speedometer_gain": "Speedometer gain",
    "speedometer_gain_lo95": "from",
    "speedometer_gain_hi95": "to",
    "speedometer_verdict": "Speedometer",
    "warnings": "Warnings",
    "message": "Message",
}


def rows_of(ride: str, analysis: Analysis) -> list[Row]:
    """Return a row for each setup, reference first."""
    compared = {comparison.other: comparison for comparison in analysis.comparisons}
    warnings = sum(finding.severity == "warning" for finding in analysis.findings)
    return [
        {
            **failed(ride, ""),
            "status": "reported",
            "bike": analysis.bike.name,
            "warnings": warnings,
            **_setup(result),
            **_change(compared.get(result.setup.name)),
        }
        for result in analysis.setups
    ]


def failed(ride: str, message: str) -> Row:
    """Return the row of a folder that could not be reported."""
    return {**dict.fromkeys(COLUMNS), "ride": ride, "status": "failed", "message": message}


def _setup(result: SetupResult) -> Row:
    circumference, instrument = result.circumference, result.speedometer
    return {
        "setup": result.setup.name,
        "front": result.setup.final_drive.front,
        "rear": result.setup.final_drive.rear,
        "gears": len(result.gears),
        "samples_in_gear": result.in_gear,
        **_estimate("circumference_m", None if circumference is None else circumference.estimate_m),
        "circumference_nominal_m": None if circumference is None else circumference.nominal_m,
        **_estimate("speedometer_gain", None if instrument is None else instrument.gain),
        "speedometer_verdict": None if instrument is None else instrument.verdict,
    }


def _change(comparison: Comparison | None) -> Row:
    if comparison is None:
        return {}
    change, predicted = comparison.all_gears_change_percent, comparison.predicted_change_percent
    verdict = None
    if change is not None and predicted is not None:
        verdict = "agree" if as_predicted(change, predicted) else "do not agree"
    return {**_estimate("change_percent", change), "predicted_percent": predicted, "change_verdict": verdict}


def _estimate(name: str, estimate: Estimate | None) -> Row:
    if estimate is None:
        return {}
    return {name: estimate.value, f"{name}_lo95": estimate.lo95, f"{name}_hi95": estimate.hi95}
