"""The cheapest matching, in order, of rows of a held-rpm sheet with the held speeds of a track.

A rider with a phone and a tachometer notes only which engine speed was held in which gear. The track holds the speeds:
its plateaus, in the same order, with some more of its own (traffic) and perhaps one missing. Row r held at n_r in gear
g lies at ln v = ln n_r - k_g. For each guess of the k_g (and of the clock, where times were noted) the cheapest
matching in order is found by dynamic programming (S. Needleman and C. Wunsch, Journal of Molecular Biology 48, 443,
1970), for many guesses at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.held.plateaus import Plateaus

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Costs, as minus ln of probability against chance: a row without a plateau, and a plateau without a row.
ROW_SKIPPED: Final = 5.0
PLATEAU_SKIPPED: Final = 0.7
#: Scatter of a held engine speed about the noted one beside its own error, ln.
_HELD_SD: Final = 0.01


@dataclass(frozen=True, eq=False)
class Pairing:
    """What is known of R rows and P plateaus before they are matched, both in the order ridden.

    Attributes
    ----------
    gear : (R,) int
        Gear of each row.
    log_rpm : (R,) float
        ln of the engine speed that was held.
    log_speed : (P,) float
        ln of the plateaus' speeds.
    sd : (R, P) float
        Of ln v of a row about that of its plateau.
    off_time : (T, R, P) float
        Cost of what a row's noted time is off, for each of T ways to set its clock; T = 1 and 0 without times.
    """

    gear: IntArray
    log_rpm: FloatArray
    log_speed: FloatArray
    sd: FloatArray
    off_time: FloatArray

    def of_rows(self, rows: NDArray[np.bool_]) -> Pairing:
        """Return what is known of some rows."""
        return Pairing(self.gear[rows], self.log_rpm[rows], self.log_speed, self.sd[rows], self.off_time[:, rows])


def pair_up(gear: IntArray, rpm: FloatArray, rpm_sd: FloatArray, plateaus: Plateaus, off_time: FloatArray) -> Pairing:
    """Put rows beside plateaus; arrays as in `Pairing`, engine speeds in rev/min."""
    seen_sd = plateaus.speed_sd_mps / plateaus.speed_mps
    sd = np.sqrt((rpm_sd / rpm)[:, None] ** 2 + seen_sd[None, :] ** 2 + _HELD_SD**2)
    return Pairing(gear, np.log(rpm), np.log(plateaus.speed_mps), sd, off_time)


def cheapest(known: Pairing, expected: FloatArray, clock: IntArray) -> FloatArray:
    """Cost of the cheapest matching for each of H guesses.

    Parameters
    ----------
    known : Pairing
        Rows and plateaus.
    expected : (R, H) float
        ln v of each row.
    clock : (H,) int
        Which way to set the clock.
    """
    cost: FloatArray = _tables(known, expected, clock)[-1][-1]
    return cost


def matched(known: Pairing, expected: FloatArray, clock: IntArray) -> IntArray:
    """Plateau of each row in the cheapest matching, -1 none, (R, H); arguments as in `cheapest`."""
    tables = _tables(known, expected, clock)
    rows, guesses = expected.shape
    plateau = np.full((rows, guesses), -1, dtype=np.int64)
    p = np.full(guesses, known.log_speed.size)
    every = np.arange(guesses)
    for r in range(rows, 0, -1):
        # Plateaus after the last one that this row's best does not reach were left over.
        levels = tables[r] - PLATEAU_SKIPPED * np.arange(tables[r].shape[0])[:, None]
        p = np.argmax(levels <= levels[p, every] + 1e-9, axis=0)
        skipped = tables[r - 1][p, every] + ROW_SKIPPED <= tables[r][p, every] + 1e-9
        plateau[r - 1] = np.where(skipped, -1, p - 1)
        p = np.where(skipped, p, p - 1)
    return plateau


def _tables(known: Pairing, expected: FloatArray, clock: IntArray) -> list[FloatArray]:
    """Cost of the first r rows on the first p plateaus, (P + 1, H), for each r."""
    places = known.log_speed.size
    left_over = PLATEAU_SKIPPED * np.arange(places + 1)[:, None]
    tables = [np.repeat(left_over, expected.shape[1], axis=1)]
    for r in range(expected.shape[0]):
        sd = known.sd[r, :, None]
        pair = 0.5 * ((known.log_speed[:, None] - expected[r]) / sd) ** 2 + np.log(sd / known.sd.min())
        pair += known.off_time[:, r, :].T[:, clock]
        before = tables[-1]
        best = before + ROW_SKIPPED
        best[1:] = np.minimum(best[1:], before[:-1] + pair)
        tables.append(np.minimum.accumulate(best - left_over, axis=0) + left_over)
    return tables
