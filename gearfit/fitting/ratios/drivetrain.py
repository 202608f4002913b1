"""Rolling circumference and overall ratios from the gears' levels, with what is known from outside.

The samples give k_g = ln(n/v) = ln i_g + ln 60 - ln C only. Circumference C and ratios i_g are never both free:
whatever is known of them enters as a further observation with its own standard error, and the rank is checked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.units import SECONDS_PER_MINUTE

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Drivetrain:
    """ln of circumference (m) and of the overall ratios with their joint covariance ((G + 1, G + 1), C first)."""

    log_circumference: float
    log_ratios: FloatArray
    covariance: FloatArray


def fit_drivetrain(
    level: FloatArray,
    level_covariance: FloatArray,
    ratio: FloatArray | None = None,
    ratio_relative_sd: FloatArray | None = None,
    circumference_m: float | None = None,
    circumference_relative_sd: float = 0.0,
) -> Drivetrain:
    """Generalised least squares for ln C and ln i_g.

    Parameters
    ----------
    level, level_covariance : (G,), (G, G) float
        ln(rev/min per m/s) of each gear.
    ratio : (G,) float or None
        Known overall ratios, NaN where unknown.
    ratio_relative_sd : (G,) float or None
        Their relative standard errors; None: exact (tooth counts).
    circumference_m, circumference_relative_sd : float or None, float
        Known circumference and relative standard error (0: exact).

    Raises
    ------
    UndecidableError
        Neither a ratio nor the circumference is known: any circumference would fit.
    """
    gears = level.size
    rows = [np.column_stack([-np.ones(gears), np.eye(gears)])]
    observed = [level - np.log(SECONDS_PER_MINUTE)]
    blocks = [level_covariance]
    if ratio is not None:
        known = np.flatnonzero(np.isfinite(ratio))
        sd = np.zeros(gears) if ratio_relative_sd is None else ratio_relative_sd
        rows.append(np.eye(gears + 1)[1 + known])
        observed.append(np.log(ratio[known]))
        blocks.append(np.diag(sd[known] ** 2))
    if circumference_m is not None:
        rows.append(np.eye(gears + 1)[:1])
        observed.append(np.array([np.log(circumference_m)]))
        blocks.append(np.array([[circumference_relative_sd**2]]))
    design = np.vstack(rows)
    if np.linalg.matrix_rank(design) < gears + 1:
        raise UndecidableError(
            "speed and engine speed alone fix only the ratio of circumference and overall ratio: "
            "state the tooth counts or the rolling circumference in bike.toml"
        )
    scale = float(np.median(np.diag(level_covariance)))
    covariance = _block_diagonal([block + 1e-12 * scale * np.eye(len(block)) for block in blocks])
    weighted = np.linalg.solve(covariance, design)
    spread = np.linalg.inv(design.T @ weighted)
    solution = spread @ (weighted.T @ np.concatenate(observed))
    return Drivetrain(float(solution[0]), solution[1:], spread)


def _block_diagonal(blocks: list[FloatArray]) -> FloatArray:
    size = sum(len(block) for block in blocks)
    result, start = np.zeros((size, size)), 0
    for block in blocks:
        result[start : start + len(block), start : start + len(block)] = block
        start += len(block)
    return result
