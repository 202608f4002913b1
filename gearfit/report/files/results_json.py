"""results.json, for programs: schema "gearfit-results-1", SI units, null where the data cannot say."""

from __future__ import annotations

import json
import math
import numbers
from collections.abc import Mapping
from dataclasses import asdict
from typing import Final, TypeAlias

from gearfit.machine.bike import Bike
from gearfit.records.results import (
    Analysis,
    Circumference,
    Comparison,
    Estimate,
    GearResult,
    SetupResult,
    SpanComparison,
    SpanSummary,
    Speedometer,
    SprocketCheck,
)
from gearfit.report.files import span_json
from gearfit.report.files.swap_json import hardest_json, swap_json
from gearfit.version import __version__

SCHEMA: Final = "gearfit-results-1"
_FIGURES: Final = 9

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"


def results_text(analysis: Analysis) -> str:
    """Return the text of results.json (UTF-8, two spaces of indentation, keys in fixed order).

    Parameters
    ----------
    analysis : Analysis
        What was found out.

    Returns
    -------
    str
        Numbers carry nine significant figures; NaN and infinity become null.
    """
    return json.dumps(plain(results(analysis)), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def results(analysis: Analysis) -> dict[str, object]:
    """Return results.json as nested mappings, estimates still records."""
    comparisons = [_comparison(comparison) for comparison in analysis.comparisons]
    whole: dict[str, object] = {
        "schema": SCHEMA,
        "gearfit_version": __version__,
        "bike": _bike(analysis.bike),
        "findings": [
            {"severity": finding.severity, "code": finding.code, "text": finding.text} for finding in analysis.findings
        ],
        "setups": {setup.setup.name: _setup(setup) for setup in analysis.setups},
        "comparison": comparisons[0] if comparisons else None,
    }
    return {**whole, "comparisons": comparisons} if len(comparisons) > 1 else whole


def plain(value: object) -> Json:
    """Turn records, mappings and numpy scalars into what JSON knows.

    Raises
    ------
    TypeError
        A value of another kind; the message names its type.
    """
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool) or type(value).__name__ == "bool":
        return bool(value)
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        return float(f"{float(value):.{_FIGURES}g}") if math.isfinite(value) else None
    if isinstance(value, Estimate):
        return {key: plain(part) for key, part in asdict(value).items()}
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    raise TypeError(f"results.json cannot hold a {type(value).__name__}; allowed are numbers, texts, lists, mappings")


def _bike(bike: Bike) -> dict[str, object]:
    stated = asdict(bike)
    del stated["setups"]
    return {"name": stated.pop("name"), **stated}


def _setup(result: SetupResult) -> dict[str, object]:
    drive = result.setup.final_drive
    return {
        "final_drive": {"front": drive.front, "rear": drive.rear},
        "samples": {
            "read": len(result.samples),
            "in_gear": result.in_gear,
            "left_out": dict(sorted(result.left_out.items())),
        },
        "lag_s": result.lag_s,
        "noise": [asdict(noise) for noise in result.noise],
        "gears": [_gear(gear) for gear in result.gears],
        "rolling_circumference_m": _circumference(result.circumference),
        "speedometer": _speedometer(result.speedometer),
        "timed_spans": [
            {
                "source": span.source,
                "from_mps": span.from_mps,
                "to_mps": span.to_mps,
                "start_s": span.start_s,
                "time_s": span.time_s,
                **span_json.run(span),
            }
            for span in result.timed_spans
        ],
        "left_out_runs": [asdict(run) for run in result.left_out_runs],
    }


def _gear(gear: GearResult) -> dict[str, object]:
    return {
        "gear": gear.gear,
        "samples": gear.samples,
        "passages": gear.passages,
        "speed_per_1000rpm_mps": gear.speed_per_1000rpm_mps,
        "overall_ratio": gear.overall_ratio,
        "nominal_overall_ratio": gear.nominal_overall_ratio,
        "deviation_percent": gear.deviation_percent,
        "consistent": gear.consistent,
    }


def _circumference(circumference: Circumference | None) -> dict[str, object] | None:
    if circumference is None:
        return None
    return {
        **asdict(circumference.estimate_m),
        "nominal": circumference.nominal_m,
        "rests_on": circumference.rests_on,
    }


def _speedometer(speedometer: Speedometer | None) -> dict[str, object] | None:
    if speedometer is None:
        return None
    return {
        "gain": speedometer.gain,
        "offset_mps": speedometer.offset_mps,
        "at": [
            {
                "true_mps": point.true_mps,
                "indicated_mps": point.indicated_mps,
                "error_mps": point.error_mps,
                "allowed_lo_mps": point.allowed_lo_mps,
                "allowed_hi_mps": point.allowed_hi_mps,
            }
            for point in speedometer.at
        ],
        "verdict": speedometer.verdict,
        "correction_factor": speedometer.correction_factor,
    }


def _comparison(comparison: Comparison) -> dict[str, object]:
    return {
        "reference": comparison.reference,
        "other": comparison.other,
        "predicted_change_percent": comparison.predicted_change_percent,
        "gears": [
            {
                "gear": gear.gear,
                "change_percent": gear.change_percent,
                "predicted_percent": gear.predicted_percent,
                "consistent": gear.consistent,
            }
            for gear in comparison.gears
        ],
        "all_gears_change_percent": comparison.all_gears_change_percent,
        "sprocket_candidates": [asdict(pair) for pair in comparison.sprocket_candidates],
        "timed_spans": [_span(span) for span in comparison.timed_spans],
        "swap_on_paper": swap_json(comparison.swap),
        "hardest_riding": hardest_json(comparison.hardest),
        "sprocket_check": _sprocket_check(comparison.sprocket_check),
    }


def _sprocket_check(check: SprocketCheck | None) -> dict[str, object] | None:
    if check is None:
        return None
    return {
        "pairs": [
            {
                "reference_front": pair.reference[0],
                "reference_rear": pair.reference[1],
                "other_front": pair.other[0],
                "other_rear": pair.other[1],
                "probability": pair.probability,
            }
            for pair in check.pairs
        ],
        "stated_probability": check.stated_probability,
        "another_tyre_probability": check.another_tyre_probability,
        "exchanged_probability": check.exchanged_probability,
        "no_pair_probability": check.no_pair_probability,
    }


def _span(span: SpanComparison) -> dict[str, object]:
    return {
        "from_mps": span.from_mps,
        "to_mps": span.to_mps,
        "reference": _summary(span.reference),
        "other": _summary(span.other),
        "difference_s": span.difference_s,
        "predicted_difference_s": span.predicted_difference_s,
        "runs_needed_per_setup": span.runs_needed_per_setup,
        **span_json.compared(span),
    }


def _summary(summary: SpanSummary) -> dict[str, object]:
    return {"n": summary.n, "mean_s": summary.mean_s, "sd_s": summary.sd_s, **span_json.summary(summary)}
