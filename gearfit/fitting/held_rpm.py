"""Sheets of held engine speeds matched, in order, with the held speeds of a track.

A rider with a phone and a tachometer notes only which engine speed was held in which gear. The track holds the speeds:
its plateaus, in the same order, with some more of its own (traffic) and perhaps one missing. Row r held at n_r in gear
g should lie at ln v = ln n_r - k_g; the common shift of all k_g (tyre, tachometer) is searched, and for each shift
the cheapest matching in order is found by dynamic programming (S. Needleman and C. Wunsch, Journal of Molecular
Biology 48, 443, 1970).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.plateaus import Plateaus

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Costs, as minus ln of probability: a row without a plateau, and a plateau without a row.
_ROW_SKIPPED: Final = 5.0
_PLATEAU_SKIPPED: Final = 0.7
#: Scatter of a held engine speed about the noted one beside its own error, ln.
_HELD_SD: Final = 0.01
#: Shifts searched around the expected one, and their step; around nothing expected, the reach is wide.
_REACH: Final = 0.30
_WIDE_REACH: Final = 0.9
_STEP: Final = 0.004
#: Shifts farther apart than this are two; the best must be cheaper by this much to be believed.
_APART: Final = 0.03
LEAST_LEAD: Final = 3.0
#: Rows that must find a plateau: at least this many, and this share.
LEAST_ROWS: Final = 3
_LEAST_SHARE: Final = 0.6


@dataclass(frozen=True, eq=False)
class Match:
    """Which plateau each row belongs to ((R,) int, -1 none); empty with a reason where nothing can be said."""

    plateau: IntArray
    reason: str


def match_rows(
    log_speed: FloatArray,
    row_sd: FloatArray,
    plateaus: Plateaus,
    expected_shift: float | None,
    shift_sd: float,
) -> Match:
    """Match rows with plateaus.

    Parameters
    ----------
    log_speed : (R,) float
        ln n - ln i of each row, in the order ridden: the speed up to the common shift.
    row_sd : (R,) float
        Relative error of the held engine speed.
    plateaus : Plateaus
        Held speeds of the track.
    expected_shift : float or None
        ln(C/60) as the tyre leads one to expect; None where unknown.
    shift_sd : float
        Its standard deviation.
    """
    nobody = np.full(log_speed.size, -1, dtype=np.int64)
    if plateaus.speed_mps.size < LEAST_ROWS or log_speed.size < LEAST_ROWS:
        return Match(nobody, f"{log_speed.size} rows and {plateaus.speed_mps.size} held speeds are too few to match")
    seen = np.log(plateaus.speed_mps)
    if expected_shift is None:
        middle = float(np.median(seen) - np.median(log_speed))
        shifts = middle + np.arange(-_WIDE_REACH, _WIDE_REACH, _STEP)
        prior = np.zeros(shifts.size)
    else:
        shifts = expected_shift + np.arange(-_REACH, _REACH, _STEP)
        prior = 0.5 * ((shifts - expected_shift) / shift_sd) ** 2
    seen_sd = plateaus.speed_sd_mps / plateaus.speed_mps
    cost, _ = _cheapest(log_speed, row_sd, seen, seen_sd, shifts)
    cost += prior
    best = int(np.argmin(cost))
    others = np.abs(shifts - shifts[best]) > _APART
    lead = float(cost[others].min() - cost[best]) if others.any() else np.inf
    if lead < LEAST_LEAD:
        return Match(nobody, "the held speeds of the track fit the rows in more than one way")
    _, plateau = _cheapest(log_speed, row_sd, seen, seen_sd, shifts[best : best + 1])
    found = int(np.sum(plateau >= 0))
    if found < max(LEAST_ROWS, _LEAST_SHARE * log_speed.size):
        return Match(nobody, f"only {found} of {log_speed.size} rows find a held speed of the track, in order")
    return Match(plateau, "")


def _cheapest(
    log_speed: FloatArray, row_sd: FloatArray, seen: FloatArray, seen_sd: FloatArray, shifts: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Cost of the cheapest matching for each shift, and the matching for the first of them."""
    rows, places = log_speed.size, seen.size
    cost = np.empty((rows + 1, places + 1, shifts.size))
    cost[0] = _PLATEAU_SKIPPED * np.arange(places + 1)[:, None]
    move = np.zeros((rows + 1, places + 1), dtype=np.int64)
    for r in range(1, rows + 1):
        cost[r, 0] = cost[r - 1, 0] + _ROW_SKIPPED
        sd = np.sqrt(row_sd[r - 1] ** 2 + seen_sd**2 + _HELD_SD**2)
        z = (seen[:, None] - log_speed[r - 1] - shifts[None, :]) / sd[:, None]
        pairing = 0.5 * z**2
        for p in range(1, places + 1):
            options = (
                cost[r - 1, p - 1] + pairing[p - 1],
                cost[r - 1, p] + _ROW_SKIPPED,
                cost[r, p - 1] + _PLATEAU_SKIPPED,
            )
            cost[r, p] = np.minimum(np.minimum(options[0], options[1]), options[2])
            move[r, p] = int(np.argmin([option[0] for option in options]))
    return cost[rows, places], _back(move)


def _back(move: IntArray) -> IntArray:
    r, p = move.shape[0] - 1, move.shape[1] - 1
    plateau = np.full(r, -1, dtype=np.int64)
    while r > 0 and p > 0:
        if move[r, p] == 0:
            plateau[r - 1] = p - 1
            r, p = r - 1, p - 1
        elif move[r, p] == 1:
            r -= 1
        else:
            p -= 1
    return plateau
