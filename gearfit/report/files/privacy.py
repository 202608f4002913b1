"""A report that does not tell where it was ridden."""

from __future__ import annotations

from dataclasses import replace

from gearfit.records.results import Analysis


def without_positions(analysis: Analysis) -> Analysis:
    """Return the analysis without any position, in either unit of speed."""
    setups = tuple(replace(result, tracks=()) for result in analysis.setups)
    restated = None if analysis.restated is None else without_positions(analysis.restated)
    return replace(analysis, setups=setups, restated=restated)
