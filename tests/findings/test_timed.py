"""Timed spans in words: what was compared, which runs do not count, which ways they went."""

from __future__ import annotations

from dataclasses import replace

from gearfit.results import SpanComparison, SpanSummary
from gearfit.words import span_name

SPAN = SpanComparison(60 / 3.6, 100 / 3.6, SpanSummary(3, 5.0, 0.1), SpanSummary(3, 5.1, 0.1), None, None, None)


def test_runs_over_one_span_that_were_not_ridden_alike_have_names_of_their_own() -> None:
    spans = [
        replace(SPAN, kind="ride", how="roll-on", gears=(3,)),
        replace(SPAN, kind="ride", how="through the gears", gears=(2,)),
        replace(SPAN, kind="ride", how="through the gears", gears=(3,)),
        replace(SPAN, kind="ride", how="through the gears"),
        SPAN,
        replace(SPAN, kind="ride and stopwatch"),
        replace(SPAN, kind="ride", how="standing start", from_mps=0.0),
    ]
    assert [span_name(span, "kmh").replace("\N{NO-BREAK SPACE}", " ") for span in spans] == [
        "60 to 100 km/h in third gear",
        "60 to 100 km/h, through the gears from second gear",
        "60 to 100 km/h, through the gears from third gear",
        "60 to 100 km/h, through the gears",
        "60 to 100 km/h, by stopwatch",
        "60 to 100 km/h, ride and stopwatch",
        "0 to 100 km/h, standing start",
    ]
