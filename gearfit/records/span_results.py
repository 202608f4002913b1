"""Records of timed runs: found in a ride or timed by hand, left out, and compared from setup to setup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gearfit.records.estimate import Estimate

#: Where a time comes from, and how the run was ridden ("" where nobody can say).
RunKind = Literal["stopwatch", "ride"]
How = Literal["", "standing start", "roll-on", "through the gears"]


@dataclass(frozen=True, eq=False)
class RunTrace:
    """Course of one run, from a little before its start to a little after its end.

    Attributes
    ----------
    time_s : (n,) float
        Seconds from the start of the run.
    recorded_mps, speed_mps, acceleration_mps2 : (n,) float
        Speed as recorded; smoothed speed and its rate of change.
    engine_rpm : (n,) float
        NaN where unknown.
    gear : (n,) int
        0 where none: clutch, shift or unknown.
    """

    time_s: NDArray[np.float64]
    recorded_mps: NDArray[np.float64]
    speed_mps: NDArray[np.float64]
    acceleration_mps2: NDArray[np.float64]
    engine_rpm: NDArray[np.float64]
    gear: NDArray[np.int64]


@dataclass(frozen=True)
class Shift:
    """One change of gear within a run.

    Attributes
    ----------
    time_s, speed_mps : float
        When it began, from the start of the run, and at which speed.
    from_gear, to_gear : int
        The gears.
    engine_rpm : float or None
        Engine speed at which the lower gear was left.
    duration_s : float
        Time without a gear.
    lost_s : float or None
        Time by which the run would have been shorter without the gap: duration less what the speed gained in it over
        the mean acceleration beside it. None where the acceleration beside it is not known.
    """

    time_s: float
    speed_mps: float
    from_gear: int
    to_gear: int
    engine_rpm: float | None
    duration_s: float
    lost_s: float | None


@dataclass(frozen=True)
class TimedSpan:
    """One run from one speed to another.

    Attributes
    ----------
    source : str
        File.
    from_mps, to_mps : float
        The span; 0 = standing start.
    start_s : float or None
        Time in its file at which it began, None for a hand-timed run.
    time_s : Estimate
        The time, with its own standard error.
    kind : {"stopwatch", "ride"}
        Timed by hand, or found in a log.
    how : str
        "standing start", "roll-on" (one gear), "through the gears", or "" where not known.
    gears : tuple of int
        Gears used, in order; empty where not known.
    shifts : tuple of Shift
        Changes of gear.
    errors_s : mapping of str to float
        Parts of the standard error: "start", "end", "common".
    rollout_time_s : Estimate or None
        Time from one foot (0.3048 m) after the first movement; standing starts found in a ride only.
    grade_percent : Estimate or None
        Mean slope of the road, uphill positive; None where the elevation cannot tell.
    heading_deg : float or None
        Direction ridden, clockwise from north.
    corrected_time_s : Estimate or None
        Time at the reference state of the air, beside `time_s` and never instead of it; None where not asked for.
    from_rest : bool
        Whether it is a standing start, or part of one; hand-timed runs do not say.
    trace : RunTrace or None
        Course of the run; None for a hand-timed one.
    """

    source: str
    from_mps: float
    to_mps: float
    start_s: float | None
    time_s: Estimate
    kind: RunKind = "stopwatch"
    how: How = ""
    gears: tuple[int, ...] = ()
    shifts: tuple[Shift, ...] = ()
    errors_s: Mapping[str, float] = field(default_factory=dict)
    rollout_time_s: Estimate | None = None
    grade_percent: Estimate | None = None
    heading_deg: float | None = None
    corrected_time_s: Estimate | None = None
    from_rest: bool = False
    trace: RunTrace | None = field(default=None, repr=False, compare=False)

    @property
    def gears_alike(self) -> tuple[int, ...]:
        """What runs ridden alike share of their gears: the one they begin in; empty for starts and where not known.

        Parts of starts are alike whatever gear they begin in: with other sprockets that may be another one.
        """
        return () if self.from_rest or self.from_mps == 0 else self.gears[:1]


@dataclass(frozen=True)
class LeftOutRun:
    """A run that does not count; `start_s` is None where it was timed by hand, `time_s` where it has no end.

    `reason` speaks of a speed in km/h; `speed_mps` is that speed, None where the reason names none.
    """

    source: str
    from_mps: float
    to_mps: float
    start_s: float | None
    time_s: float | None
    reason: str
    speed_mps: float | None = None


@dataclass(frozen=True, eq=False)
class MeanCourse:
    """Mean speed of several runs over the time from their start, with the scatter between them.

    Attributes
    ----------
    time_s, mean_mps : (n,) float
        As far as every run goes.
    low_mps, high_mps : (n,) float
        One standard deviation of the runs below and above (the mean itself for a single run).
    """

    time_s: NDArray[np.float64]
    mean_mps: NDArray[np.float64]
    low_mps: NDArray[np.float64]
    high_mps: NDArray[np.float64]


@dataclass(frozen=True)
class SpanSummary:
    """Runs over one span in one setup.

    Attributes
    ----------
    n : int
        Number of runs.
    mean_s : float
        Mean time (weighted where the runs' own errors differ).
    sd_s : float or None
        Scatter of the times; None for a single run.
    own_se_s : float
        Root mean square of the runs' own standard errors.
    there, back : int
        Runs in the one direction of the road and in the opposite one; 0 and 0 where the headings are not known.
    two_way_mean_s : float or None
        2 / (1/there + 1/back) of the two mean times; None without both directions.
    direction_gap_s : Estimate or None
        Mean time there less back: slope and wind together; None below two runs each way.
    course : MeanCourse or None
        Mean course of runs found in a ride; None for hand-timed ones.
    """

    n: int
    mean_s: float
    sd_s: float | None
    own_se_s: float = 0.0
    there: int = 0
    back: int = 0
    two_way_mean_s: float | None = None
    direction_gap_s: Estimate | None = None
    course: MeanCourse | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True)
class SpanComparison:
    """One span, other setup against reference.

    Attributes
    ----------
    from_mps, to_mps : float
        The span.
    reference, other : SpanSummary
        Runs of the two setups.
    difference_s : Estimate or None
        Other minus reference with Welch's interval; None where a setup has only one run.
    predicted_difference_s : Estimate or None
        What the change of gearing alone leads one to expect; None where that cannot be said.
    runs_needed_per_setup : int or None
        How many runs each would show the measured difference with power 80 %, at least 4; None above 999.
    runs_needed_lo95, runs_needed_hi95 : int or None
        Its 95 % interval, for all that difference and scatter are known; None above 999.
    kind : str
        "stopwatch", "ride" or "ride and stopwatch".
    how : str
        How the runs were ridden, as `TimedSpan.how`.
    gears : tuple of int
        The gear of roll-ons, or the one in which runs through several begin; empty otherwise.
    permutation_p : float or None
        Two-sided probability, over all ways to deal the runs out to the setups, of a difference of means at least this
        large; None where a setup has one run, or where there are too many ways to count.
    least_shown_s : float or None
        Smallest difference that these runs could have shown with power 80 %; where a setup has one run, by the scatter
        of the other's, and where both have, by an assumed one of 3 %.
    runs_for_prediction : int or None
        The same for the predicted difference; None without prediction, or above 999.
    runs_for_prediction_lo95, runs_for_prediction_hi95 : int or None
        Its 95 % interval; None without prediction, or above 999.
    corrected_difference_s : Estimate or None
        As `difference_s`, of the times at the reference state of the air; None unless every run has such a time.
    """

    from_mps: float
    to_mps: float
    reference: SpanSummary
    other: SpanSummary
    difference_s: Estimate | None
    predicted_difference_s: Estimate | None
    runs_needed_per_setup: int | None
    kind: str = "stopwatch"
    how: How = ""
    gears: tuple[int, ...] = ()
    permutation_p: float | None = None
    least_shown_s: float | None = None
    runs_for_prediction: int | None = None
    runs_needed_lo95: int | None = None
    runs_needed_hi95: int | None = None
    runs_for_prediction_lo95: int | None = None
    runs_for_prediction_hi95: int | None = None
    corrected_difference_s: Estimate | None = None

    @property
    def gears_alike(self) -> tuple[int, ...]:
        """As `TimedSpan.gears_alike`, of all its runs."""
        return self.gears
