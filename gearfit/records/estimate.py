"""A number with its uncertainty, as every result holds it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A number with its uncertainty.

    Attributes
    ----------
    value : float
        Best estimate.
    se : float
        Standard error.
    lo95, hi95 : float
        Ends of the 95 % interval (Student t with the degrees of freedom that the data leave).
    """

    value: float
    se: float
    lo95: float
    hi95: float

    def scaled(self, factor: float) -> Estimate:
        """Return the estimate in another unit, 1 old = `factor` new (factor above 0)."""
        return Estimate(self.value * factor, self.se * factor, self.lo95 * factor, self.hi95 * factor)

    def shifted(self, by: float) -> Estimate:
        """Return the estimate with an exact number added."""
        return Estimate(self.value + by, self.se, self.lo95 + by, self.hi95 + by)

    def contains(self, number: float) -> bool:
        """Tell whether `number` lies within the 95 % interval."""
        return self.lo95 <= number <= self.hi95
