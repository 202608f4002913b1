"""Which rows of a log measured a channel anew, and which only repeat (hold) an earlier value.

Loggers that poll one channel after the other write the last known value of all others into every row. Three kinds:

* polled in turn: the rows at which a value changes lie a multiple of one period P apart; a refresh often brings the
  same value again, so between two changes every P-th row counts too;
* a slow receiver in a fast log without a steady period: values stay equal in runs and then jump by much more than
  the step in which they are written; only the changes count;
* everything else: every row counts. That is so too in a finely timed log of coarse values, which stay equal for long
  and then change by exactly one step.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.int64]

#: Fewer changes than this decide nothing.
_FEWEST_CHANGES: Final = 10
#: Share of distances between changes that must be multiples of the period.
_SHARE_OF_MULTIPLES: Final = 0.8
#: Rows by which a distance may miss the multiple, at most and as a share of the period.
_SLIP_ROWS, _SLIP_SHARE = 2, 0.2
#: Share of changes by exactly one step from which coarse values are taken to change of themselves, not by polling.
_SHARE_OF_SINGLE_STEPS: Final = 0.9
#: A slow receiver holds for this many rows (median) and jumps by this many steps (median).
_HOLD_ROWS, _JUMP_STEPS = 3, 3.0
#: Share of empty cells after the first value from which a log is taken to fill a cell only when it measured.
_SPARSE_SHARE: Final = 0.2


def refreshed(values: Floats, step: float | None) -> Bools:
    """Find the rows in which a channel was measured anew.

    Parameters
    ----------
    values : numpy.ndarray
        One channel in the order of the rows, NaN where the cell is empty.
    step : float or None
        Step in which the values are written, in the unit of `values`.

    Returns
    -------
    numpy.ndarray of bool
        True where measured anew; never True where `values` is NaN.
    """
    present = np.isfinite(values)
    if not present.any():
        return present
    start = int(present.argmax())
    if np.mean(~present[start:]) > _SPARSE_SHARE:
        return present
    held = _filled(values[start:])
    changed = held[1:] != held[:-1]
    if 3 * (np.count_nonzero(changed) - 1) > 2 * held.size:
        # Changes lie less than 1.5 rows apart on average, so most in neighbouring rows: no period, and nothing held.
        return present
    changes = np.flatnonzero(changed) + 1 + start
    if start > 0:
        changes = np.concatenate(([start], changes))
    if changes.size < _FEWEST_CHANGES:
        return present
    steps = _jumps(values, changes) / (step or np.inf)
    if np.mean(np.abs(steps - 1.0) < 0.5) >= _SHARE_OF_SINGLE_STEPS:
        return present
    period = polling_period(changes)
    if period is not None:
        rows = _polled_rows(changes, period, start, values.size)
    elif np.median(np.diff(changes)) >= _HOLD_ROWS and np.median(steps) >= _JUMP_STEPS * (1 - 1e-9):
        rows = changes
    else:
        return present
    fresh = np.zeros(values.size, dtype=bool)
    fresh[rows] = True
    return fresh & present


def polling_period(changes: Rows) -> int | None:
    """Period in rows with which a channel is refreshed, or None where the rows of change keep no period."""
    distances = np.diff(changes)
    period = int(np.bincount(distances).argmax())
    if period < 2:
        return None
    slip = min(_SLIP_ROWS, int(_SLIP_SHARE * period))
    cycles = np.maximum(np.rint(distances / period), 1)
    share = np.mean(np.abs(distances - cycles * period) <= slip)
    return period if share >= _SHARE_OF_MULTIPLES else None


def _polled_rows(changes: Rows, period: int, start: int, size: int) -> Rows:
    """All rows of change, and every `period`-th row between two of them, before the first and after the last."""
    rows = [changes]
    for row, until in pairwise(changes):
        # A change that comes a little early or late starts the count anew, so none is set within half a period of it.
        rows.append(np.arange(row + period, until - period // 2, period, dtype=np.int64))
    rows.append(np.arange(changes[0] - period, start - 1, -period, dtype=np.int64))
    rows.append(np.arange(changes[-1] + period, size, period, dtype=np.int64))
    return np.concatenate(rows)


def _jumps(values: Floats, changes: Rows) -> Floats:
    """Return by how much the value changes in each row of change but the first."""
    filled = _filled(values)
    return np.abs(filled[changes[1:]] - filled[changes[1:] - 1])


def _filled(values: Floats) -> Floats:
    """Return the values with the last known one where one is missing."""
    return np.asarray(pd.Series(values).ffill()) if np.isnan(values).any() else values
