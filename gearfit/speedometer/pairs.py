"""Pairs of shown and true speed, wherever they come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Pairs:
    """Pairs of true and shown speed; arrays of one length (n,).

    Attributes
    ----------
    true_mps, shown_mps : float
        The two readings.
    true_sd_mps, shown_sd_mps : float
        Their standard errors.
    rate_mps2 : float
        Rate of change of the true speed; 0 where the speed was held.
    damping_mps2 : float
        Change of the true speed, as the instrument follows it, for a second more of damping at the same delay; 0 where
        the speed was held.
    timed : int
        Number of the log whose lag a pair shares; -1 for sheets.
    unit : int
        Number of the passage (stretch of riding, row of a sheet) within which errors hang together.
    common : float
        Relative error of the true speed common to all such pairs (circumference, tachometer); 0 where there is none.
    file : object (str)
        File of the shown speed.
    row : int
        Row of that file.
    step_mps : float
        Step in which the instrument was read.
    """

    true_mps: FloatArray
    shown_mps: FloatArray
    true_sd_mps: FloatArray
    shown_sd_mps: FloatArray
    rate_mps2: FloatArray
    damping_mps2: FloatArray
    timed: IntArray
    unit: IntArray
    common: FloatArray
    file: NDArray[np.object_]
    row: IntArray
    step_mps: FloatArray

    @property
    def size(self) -> int:
        """Number of pairs."""
        return int(self.true_mps.size)

    def take(self, which: NDArray[np.bool_] | IntArray) -> Pairs:
        """Return some of the pairs."""
        return Pairs(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})


@dataclass(frozen=True, eq=False)
class Gathered:
    """Pairs with where they come from, the lag found in each log (s), and what could not be used."""

    pairs: Pairs
    lags_s: tuple[float, ...]
    rests_on: tuple[str, ...]
    notes: tuple[str, ...]


def sheet_pairs(
    file: str,
    row: IntArray,
    true_mps: FloatArray,
    true_sd_mps: FloatArray,
    shown_mps: FloatArray,
    shown_sd_mps: FloatArray,
    step_mps: float,
    common: float = 0.0,
) -> Pairs:
    """Make pairs of readings at held speeds, each a unit of its own."""
    n = shown_mps.size
    return Pairs(
        true_mps=true_mps,
        shown_mps=shown_mps,
        true_sd_mps=true_sd_mps,
        shown_sd_mps=shown_sd_mps,
        rate_mps2=np.zeros(n),
        damping_mps2=np.zeros(n),
        timed=np.full(n, -1, dtype=np.int64),
        unit=np.arange(n, dtype=np.int64),
        common=np.full(n, common),
        file=np.full(n, file, dtype=object),
        row=np.asarray(row, dtype=np.int64),
        step_mps=np.full(n, step_mps),
    )


def join(parts: Sequence[Pairs]) -> Pairs:
    """Put pairs together; units and logs are numbered through, and a common error of scale stays one."""
    numbered, units, logs = [], 0, 0
    for part in parts:
        numbered.append(replace(part, unit=part.unit + units, timed=np.where(part.timed < 0, -1, part.timed + logs)))
        units += int(part.unit.max(initial=-1)) + 1
        logs += int(part.timed.max(initial=-1)) + 1
    return Pairs(
        **{name: np.concatenate([getattr(part, name) for part in numbered]) for name in Pairs.__dataclass_fields__}
    )
