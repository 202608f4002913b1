"""The check of one setup's speedometer, from its pairs to its record."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from gearfit.errors import UndecidableError
from gearfit.records.estimate import Estimate
from gearfit.records.results import Speedometer
from gearfit.speedometer.correction import correction, dash_card
from gearfit.speedometer.pairs import Gathered
from gearfit.speedometer.rules import Rule
from gearfit.speedometer.shape import Shape, find_shape
from gearfit.speedometer.verdict import overall, point

AT_A_STOP: Final = "at or near a stop of the instrument"
OUT_OF_LINE: Final = "out of line with the other readings"
_CURVE_POINTS: Final = 41


def judge(gathered: Gathered, rule: Rule, unit: str = "kmh") -> Speedometer | str:
    """Check a speedometer.

    Parameters
    ----------
    gathered : Gathered
        Pairs of shown and true speed of one setup.
    rule : Rule
        What is allowed.
    unit : {"kmh", "mph"}
        Unit of the dash card and of words.

    Returns
    -------
    Speedometer or str
        The record; or, in words, why the pairs cannot say.
    """
    pairs = gathered.pairs
    if pairs.size == 0:
        return " ".join(gathered.notes)
    try:
        shape = find_shape(pairs)
    except UndecidableError as error:
        return f"{error}."
    at = tuple(point(shape, rule, speed) for speed in rule.test_speeds_mps)
    grid = np.linspace(shape.slowest_mps, shape.fastest_mps, _CURVE_POINTS)
    gain = shape.gain
    aside = np.where(shape.used, "", np.where(shape.cut_off.clear, OUT_OF_LINE, AT_A_STOP))
    return Speedometer(
        gain=gain,
        offset_mps=shape.offset_mps,
        at=at,
        verdict=overall(at, shape, rule, unit),
        correction_factor=1 / gain.value,
        rule=rule.name,
        linear=shape.linear,
        lag_s=_lag(shape, gathered),
        floor_mps=shape.cut_off.floor_mps,
        ceiling_mps=shape.cut_off.ceiling_mps,
        readings=pd.DataFrame(
            {
                "file": pd.Series(pairs.file, dtype="str"),
                "row": pairs.row,
                "true_mps": pairs.true_mps,
                "shown_mps": pairs.shown_mps,
                "set_aside": pd.Series(aside, dtype="str"),
            }
        ),
        units=shape.curve.units,
        rests_on=gathered.rests_on,
        notes=gathered.notes,
        curve=tuple(point(shape, rule, float(speed)) for speed in grid),
        correction=correction(shape, rule),
        card=dash_card(shape, unit),
    )


def _lag(shape: Shape, gathered: Gathered) -> Estimate | None:
    """Lag of the first log with its correction from the fit; None where no log could tell."""
    solution, terms = shape.line.solution, shape.line.terms
    if not gathered.lags_s or solution.parameters.size == terms:
        return None
    combination = np.zeros(solution.parameters.size)
    combination[terms] = 1.0
    return solution.at(combination).shifted(gathered.lags_s[0])
