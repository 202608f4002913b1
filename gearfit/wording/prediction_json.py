"""A prediction for programs: schema "gearfit-prediction-1", SI units unless the key says otherwise."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from gearfit.version import __version__

if TYPE_CHECKING:
    from gearfit.prediction.swap import SwapPrediction
    from gearfit.records.thrust_results import SwapOnPaper

SCHEMA: Final = "gearfit-prediction-1"
_FIGURES: Final = 9


def prediction_json(prediction: SwapPrediction, swap: SwapOnPaper | None = None) -> str:
    """Return the prediction as JSON text, with what a ride adds; numbers carry nine significant figures."""
    from_ride = None if swap is None else asdict(swap)
    whole = {"schema": SCHEMA, "gearfit_version": __version__, **asdict(prediction), "from_ride": from_ride}
    return json.dumps(_rounded(whole), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return float(f"{value:.{_FIGURES}g}")
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    return value
