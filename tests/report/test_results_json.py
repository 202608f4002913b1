"""results.json: keys and nesting as published, null for what is not known, nothing lost on the way."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gearfit.records.results import Analysis
from gearfit.report.files.results_json import plain, results_text
from gearfit.version import __version__
from tests.report import example

ESTIMATE = ["value", "se", "lo95", "hi95"]


def read(analysis: Analysis) -> Any:
    """Read strictly: NaN and infinity are no JSON (RFC 8259, section 6)."""

    def refuse(name: str) -> float:
        raise AssertionError(f"{name} is no JSON number")

    return json.loads(results_text(analysis), parse_constant=refuse)


def test_keys_and_nesting() -> None:
    data = read(example.two_setups())
    assert list(data) == ["schema", "gearfit_version", "bike", "findings", "setups", "comparison"]
    assert data["schema"] == "gearfit-results-1"
    assert data["gearfit_version"] == __version__
    assert data["bike"]["name"] == "Fell 420"
    stated = {key: value for key, value in data["bike"]["engine"].items() if value is not None}
    assert stated == {"cylinders": 2, "strokes": 4, "limit_rpm": 10500.0}
    assert list(data["findings"][0]) == ["severity", "code", "text"]
    assert list(data["setups"]) == ["before", "after"]
    before = data["setups"]["before"]
    assert list(before) == [
        "final_drive",
        "samples",
        "lag_s",
        "noise",
        "gears",
        "rolling_circumference_m",
        "speedometer",
        "timed_spans",
        "left_out_runs",
    ]
    assert before["final_drive"] == {"front": 14, "rear": 43}
    assert list(before["samples"]) == ["read", "in_gear", "left_out"]
    assert list(before["lag_s"]) == ESTIMATE
    assert list(before["gears"][0]) == [
        "gear",
        "samples",
        "passages",
        "speed_per_1000rpm_mps",
        "overall_ratio",
        "nominal_overall_ratio",
        "deviation_percent",
        "consistent",
    ]
    assert list(before["rolling_circumference_m"]) == [*ESTIMATE, "nominal", "rests_on"]
    assert list(before["timed_spans"][0])[:5] == ["source", "from_mps", "to_mps", "start_s", "time_s"]
    assert list(before["timed_spans"][0])[5:] == [
        *("kind", "how", "gears", "shifts", "errors_s", "rollout_time_s", "grade_percent", "heading_deg"),
        *("corrected_time_s", "from_rest"),
    ]
    comparison = data["comparison"]
    assert list(comparison) == [
        "reference",
        "other",
        "predicted_change_percent",
        "gears",
        "all_gears_change_percent",
        "sprocket_candidates",
        "timed_spans",
        "swap_on_paper",
        "hardest_riding",
        "sprocket_check",
    ]
    assert list(comparison["gears"][0]) == ["gear", "change_percent", "predicted_percent", "consistent"]
    assert list(comparison["sprocket_candidates"][0]) == ["front", "rear", "predicted_change_percent", "probability"]
    assert list(comparison["timed_spans"][0]) == [
        "from_mps",
        "to_mps",
        "reference",
        "other",
        "difference_s",
        "predicted_difference_s",
        "runs_needed_per_setup",
        *("kind", "how", "gears", "permutation_p", "least_shown_s", "runs_for_prediction"),
        *("runs_needed_lo95", "runs_needed_hi95", "runs_for_prediction_lo95", "runs_for_prediction_hi95"),
        "corrected_difference_s",
    ]
    assert list(comparison["timed_spans"][0]["reference"])[:3] == ["n", "mean_s", "sd_s"]


def test_speedometer_keys() -> None:
    data = read(example.sheet_only())["setups"]
    assert data["before"]["speedometer"] is None
    meter = data["after"]["speedometer"]
    assert list(meter) == ["gain", "offset_mps", "at", "verdict", "correction_factor"]
    assert list(meter["at"][0]) == ["true_mps", "indicated_mps", "error_mps", "allowed_lo_mps", "allowed_hi_mps"]


def test_values_come_back_to_nine_figures() -> None:
    analysis = example.two_setups()
    data = read(analysis)
    for result in analysis.setups:
        for gear, written in zip(result.gears, data["setups"][result.setup.name]["gears"], strict=True):
            assert written["speed_per_1000rpm_mps"]["value"] == pytest.approx(
                gear.speed_per_1000rpm_mps.value, rel=1e-8
            )
            assert written["samples"] == gear.samples
            assert written["consistent"] is True
    counts = data["setups"]["before"]["samples"]
    assert counts["in_gear"] + sum(counts["left_out"].values()) == counts["read"] == 4000


def test_what_is_not_known_is_null() -> None:
    assert read(example.one_setup())["comparison"] is None
    nothing = read(example.without_gears())["setups"]["before"]
    assert (nothing["rolling_circumference_m"], nothing["lag_s"], nothing["gears"]) == (None, None, [])
    data = read(example.three_setups())
    open_ended = data["comparisons"][1]["gears"][0]["change_percent"]
    assert [open_ended[key] for key in ("se", "lo95", "hi95")] == [None, None, None]
    assert data["comparison"]["timed_spans"][1]["difference_s"] is None


def test_further_comparisons_stand_beside_the_first() -> None:
    data = read(example.three_setups())
    assert [comparison["other"] for comparison in data["comparisons"]] == [
        "after",
        "motorway set with the larger front sprocket",
    ]
    assert data["comparison"] == data["comparisons"][0]
    assert "comparisons" not in read(example.two_setups())


def test_the_order_of_the_counts_does_not_matter() -> None:
    analysis = example.one_setup()
    result = analysis.setups[0]
    turned = replace(result, left_out=dict(reversed(list(result.left_out.items()))))
    assert results_text(replace(analysis, setups=(turned,))) == results_text(analysis)


def test_numpy_scalars_become_json() -> None:
    assert plain([np.int64(3), np.float64(0.5), np.True_, np.float64("nan"), True]) == [3, 0.5, True, None, True]


def test_other_kinds_are_refused() -> None:
    with pytest.raises(TypeError) as caught:
        plain({1, 2})
    assert str(caught.value) == "results.json cannot hold a set; allowed are numbers, texts, lists, mappings"
