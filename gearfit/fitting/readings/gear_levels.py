"""Level of every gear of every setup at each scatter, what is known of the scatter, and levels over all of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtr

from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.readings.reading import Read, Readings, by_setup_and_gear
from gearfit.fitting.readings.rounded import level
from gearfit.fitting.readings.row_scatter import GRID, USUAL_SCATTER, Scattered, scattered

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Cells:
    """The readings of each gear in each setup, combined.

    Attributes
    ----------
    first : (C,) int
        The first reading of each.
    count : (C,) float
        How many were read.
    log_mass : (K,) float
        Logarithm of the likelihood of each scatter that is not in the means and variances.
    mean, variance : (K, C) float
        Of the level at each scatter.
    shared : (C, q) float
        What errors common to all readings of an instrument do to each level.
    """

    first: IntArray
    count: FloatArray
    log_mass: FloatArray
    mean: FloatArray
    variance: FloatArray
    shared: FloatArray


def in_cells(readings: Readings, read: Read, shared: FloatArray, rows: IntArray) -> Cells:
    """Combine some of the readings, gear by gear and setup by setup."""
    kind = np.column_stack([readings.setup, readings.gear, ~readings.held])[rows]
    _, first, member = np.unique(kind, axis=0, return_index=True, return_inverse=True)
    member = member.ravel()
    mean, variance = np.empty((GRID.size, first.size)), np.empty((GRID.size, first.size))
    log_mass, common = np.zeros(GRID.size), np.empty((first.size, shared.shape[1]))
    for c in range(first.size):
        own = rows[member == c]
        if not readings.held[own[0]]:
            mean[:, c], variance[:, c], common[c] = read.values[own[0]], read.own[own[0]], 0.0
            continue
        times = readings.repeats[own]
        found = level(read.values[own], read.half_step[own], read.own[own], times, GRID)
        mean[:, c], variance[:, c], log_mass = found.mean, found.variance, log_mass + found.log_mass
        weight = times / (read.variance[own] + USUAL_SCATTER**2)
        common[c] = weight @ shared[own] / weight.sum()
    count = np.bincount(member, readings.repeats[rows]).astype(np.float64)
    return Cells(rows[first], count, log_mass, mean, variance, common)


def scatter_of(readings: Readings, cells: Cells, columns: FloatArray, *, with_teeth: bool) -> Scattered:
    """Find what the levels show of the scatter, where gears of all setups move alike.

    Parameters
    ----------
    columns : (n, k) float
        What is explained away beside, at each reading.
    """
    part, nothing = readings.at(cells.first), np.zeros(cells.first.size)
    model = by_setup_and_gear(part, nothing, nothing, cells.shared, with_teeth=with_teeth)
    model = replace(model.with_columns(columns[cells.first]), repeats=nothing)
    models = [
        replace(model, values=model.values + mean, reading_variance=variance)
        for mean, variance in zip(cells.mean, cells.variance, strict=True)
    ]
    return scattered(models, cells.log_mass)


def levels_over(cells: Cells, which: IntArray, gear: IntArray, posterior: FloatArray, dof: float) -> Levels:
    """Levels of some cells over the posterior of the scatter.

    Each follows a mixture of normal laws over it; its variance is told so that Student's t with the degrees of freedom
    of all has the 97.5 % point of that mixture.
    """
    mean = posterior @ cells.mean[:, which]
    sd = np.sqrt(cells.variance[:, which])
    half = np.array(
        [_half(cells.mean[:, c] - m, sd[:, i], posterior) for i, (c, m) in enumerate(zip(which, mean, strict=True))]
    )
    common = cells.shared[which]
    count = cells.count[which].astype(np.int64)
    covariance = np.diag((half / t_quantile(0.975, dof)) ** 2) + common @ common.T
    return Levels(gear, mean, covariance, dof, count, count, common)


def _half(away: FloatArray, sd: FloatArray, weight: FloatArray) -> float:
    """Half the central 95 % interval of a mixture of normal laws about 0."""

    def outside(half: float) -> float:
        return float(weight @ (ndtr((away - half) / sd) + ndtr((-away - half) / sd))) - 0.05

    return float(brentq(outside, 0.0, 10 * float(np.max(sd + np.abs(away))), xtol=1e-7))
