"""What a ride offers: one trace a log, with gear, acceleration and grade at each moment."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.local_lines import interpolated, local_lines
from gearfit.prediction.lift import GRAVITY_MPS2
from gearfit.records.recording import Recording, RideSetup
from gearfit.records.results import SetupResult

FloatArray = NDArray[np.float64]

#: Half the time over which the way's height is put on a line, s, and the least way in it, m.
_GRADE_HALF_S: Final = 4.0
_LEAST_WAY_M: Final = 30.0
#: Noise of a grade that heights may have and still say more than "level" does.
_GRADE_SD_ALLOWED: Final = 0.02
#: Grade where nothing is known of it, and what remains of it where heights are.
LEVEL_SD: Final = 0.012
GRADED_SD: Final = 0.004
_LONGEST_GAP_S: Final = 1.5
_LEAST_SAMPLES: Final = 20
#: How near the ratio must be to that of a gear: share, and noise of the speed, m/s; not below a crawl.
_NEAR_LEVEL: Final = 0.02
_NEAR_MPS: Final = 0.2
_LEAST_MPS: Final = 2.5
_SHORT_STEP_S: Final = 0.15
#: How far two clocks of one kind may be apart, s.
_CLOCKS_APART_S: Final = 30.0


@dataclass(frozen=True, eq=False)
class Trace:
    """Fresh speeds of one log in order; arrays (n,).

    Attributes
    ----------
    file : str
        Its name.
    time_s, speed_mps, engine_rpm : float
        Engine speed NaN where unknown.
    gear : int
        0 where none.
    grade : float
        Rise over way; 0 where heights say nothing.
    grade_sd : float
        What remains unknown of the grade, alike over one run.
    """

    file: str
    time_s: FloatArray
    speed_mps: FloatArray
    engine_rpm: FloatArray
    gear: NDArray[np.int64]
    grade: FloatArray
    grade_sd: float

    @cached_property
    def step_s(self) -> float:
        """Usual time between speeds."""
        return float(np.median(np.diff(self.time_s)))

    @property
    def hill_mps2(self) -> FloatArray:
        """Acceleration that the grade takes, m/s^2."""
        return GRAVITY_MPS2 * self.grade

    def pieces(self, inside: NDArray[np.bool_]) -> list[slice]:
        """Return the stretches without gap in which `inside` holds and the gear stays."""
        broken = (np.diff(self.gear) != 0) | (np.diff(self.time_s) > max(_LONGEST_GAP_S, 2.5 * self.step_s))
        edges = np.flatnonzero(broken | (np.diff(inside.astype(np.int8)) != 0)) + 1
        starts, ends = np.r_[0, edges], np.r_[edges, self.time_s.size]
        return [slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True) if inside[a]]


def traces(ride: RideSetup, result: SetupResult) -> list[Trace]:
    """Return the traces of a setup's timed logs that hold speeds."""
    grouped = dict(list(result.samples.groupby("file", sort=False)))
    lag_s = 0.0 if result.lag_s is None else result.lag_s.value
    speed_per_rpm = {gear.gear: gear.speed_per_1000rpm_mps.value / 1000 for gear in result.gears}
    found = [
        _trace(recording, grouped[recording.file], _engine_log(recording, ride.recordings), lag_s, speed_per_rpm)
        for recording in ride.recordings
        if recording.file in grouped and recording.clock != "none" and recording.speed_source != "none"
    ]
    return [trace for trace in found if trace is not None]


def _trace(
    recording: Recording, rows: object, engine: Recording, lag_s: float, speed_per_rpm: dict[int, float]
) -> Trace | None:
    import pandas as pd

    assert isinstance(rows, pd.DataFrame)  # noqa: S101 - group of a data frame
    if len(rows) != len(recording.samples):
        return None
    time_s, speed = rows["time_s"].to_numpy(), rows["speed_mps"].to_numpy()
    use = recording.samples["speed_fresh"].to_numpy() & np.isfinite(speed) & np.isfinite(time_s)
    use[1:] &= np.diff(time_s) > 0
    if use.sum() < _LEAST_SAMPLES:
        return None
    height = recording.samples["elevation_m"].to_numpy()[use]
    grade, grade_sd = _grade(time_s[use], speed[use], height)
    paired = rows["engine_rpm"].to_numpy()[use]
    ahead_s = -lag_s if engine is recording else _ahead(engine, recording, time_s[use], paired)
    rpm = _unsmoothed(engine, time_s[use] + ahead_s) if np.isfinite(ahead_s) else paired
    rpm = np.where(np.isfinite(rpm), rpm, paired)
    labelled = rows["gear"].fillna(0).to_numpy(dtype=np.int64)[use]
    return Trace(
        file=recording.file,
        time_s=time_s[use],
        speed_mps=speed[use],
        engine_rpm=rpm,
        gear=_filled(labelled, rpm, speed[use], speed_per_rpm, float(np.median(np.diff(time_s[use])))),
        grade=grade,
        grade_sd=grade_sd,
    )


def _engine_log(recording: Recording, others: tuple[Recording, ...]) -> Recording:
    """Return the log that holds the engine speed: the recording itself, else the one other that has it."""
    found = [other for other in others if other.clock != "none" and other.samples["engine_rpm"].notna().any()]
    if recording in found or len(found) != 1:
        return recording
    return found[0]


def _ahead(engine: Recording, recording: Recording, time_s: FloatArray, paired_rpm: FloatArray) -> float:
    """How much to add to a track's time to get that of the engine log; NaN where that cannot be told.

    The fit has paired the two; its engine speed, smoothed, is found again in the log at the shift that suits best.
    """
    use = np.flatnonzero(np.isfinite(paired_rpm))
    if (
        use.size < _LEAST_SAMPLES
        or engine.start_s is None
        or recording.start_s is None
        or engine.clock != recording.clock
    ):
        return float("nan")
    use = use[:: max(1, use.size // 600)]
    clock_s = recording.start_s - engine.start_s
    best = (np.inf, np.nan)
    centre, reach = clock_s, _CLOCKS_APART_S
    for step in (0.5, 0.1, 0.02):
        for shift in np.arange(centre - reach, centre + reach + step / 2, step):
            off = np.abs(_unsmoothed(engine, time_s[use] + shift) - paired_rpm[use])
            known = np.isfinite(off)
            misfit = float(np.mean(np.minimum(off[known], 1000.0))) if known.sum() > use.size / 2 else np.inf
            best = min(best, (misfit, float(shift)))
        centre, reach = best[1], step
        if not np.isfinite(centre):
            return float("nan")
    return best[1]


def _unsmoothed(recording: Recording, at_s: FloatArray) -> FloatArray:
    """Engine speed of the log itself at moments; NaN where it has none nearby."""
    samples = recording.samples
    use = samples["rpm_fresh"].to_numpy() & samples["engine_rpm"].notna().to_numpy()
    use[1:] &= np.diff(samples["time_s"].to_numpy()) > 0
    if use.sum() < _LEAST_SAMPLES:
        return np.full(at_s.size, np.nan)
    return interpolated(samples["time_s"].to_numpy()[use], samples["engine_rpm"].to_numpy()[use], at_s, _LONGEST_GAP_S)[
        0
    ]


def _filled(
    gear: NDArray[np.int64],
    engine_rpm: FloatArray,
    speed_mps: FloatArray,
    speed_per_rpm: dict[int, float],
    step_s: float,
) -> NDArray[np.int64]:
    """Give a gear to samples that the fit left without, where engine speed and road speed say which.

    A low gear lasts a second at full throttle, less than the fit's smoothing of the engine speed. Where speeds come
    often, the first and last of such samples in a row may belong to the shift and stay without.
    """
    if not speed_per_rpm:
        return gear
    numbers = np.array(sorted(speed_per_rpm))
    levels = np.log([speed_per_rpm[g] for g in numbers])
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.abs(np.log(speed_mps / engine_rpm)[:, None] - levels)
    off[~np.isfinite(off)] = np.inf
    nearest = off.argmin(axis=1)
    steps = np.diff(levels).min() if numbers.size > 1 else 0.3
    allowed = np.minimum(_NEAR_LEVEL + _NEAR_MPS / np.maximum(speed_mps, 0.1), 0.4 * steps)
    found = np.where((off.min(axis=1) < allowed) & (speed_mps > _LEAST_MPS), numbers[nearest], 0)
    changed = np.r_[True, np.diff(found) != 0]
    edge = (changed | np.r_[changed[1:], True]) & bool(step_s < _SHORT_STEP_S)
    return np.where(gear > 0, gear, np.where(edge, 0, found))


def _grade(time_s: FloatArray, speed_mps: FloatArray, height_m: FloatArray) -> tuple[FloatArray, float]:
    """Grade from the slope of height over the way ridden; 0 where the noise of the heights does not allow it."""
    nothing = np.zeros(time_s.size)
    known = np.isfinite(height_m)
    if known.sum() < max(_LEAST_SAMPLES, 0.9 * time_s.size):
        return nothing, LEVEL_SD
    steps = np.minimum(np.diff(time_s), 10.0)
    way = np.r_[0.0, np.cumsum(0.5 * (speed_mps[1:] + speed_mps[:-1]) * steps)]
    height = np.interp(time_s, time_s[known], height_m[known])
    rise, _ = _slope(time_s, height)
    pace, _ = _slope(time_s, way)
    enough = pace * 2 * _GRADE_HALF_S > _LEAST_WAY_M
    noise = _height_noise(height)
    per_window = max(2 * _GRADE_HALF_S / float(np.median(np.diff(time_s))), 4.0)
    # Standard error of a line's slope over n even points: sd sqrt(12 / n) / span.
    sd = noise * np.sqrt(12 / per_window) / (2 * _GRADE_HALF_S * np.maximum(pace, 1e-3))
    with np.errstate(invalid="ignore"):
        grade = np.where(enough & (sd < _GRADE_SD_ALLOWED), rise / np.maximum(pace, 1e-3), np.nan)
    good = np.isfinite(grade)
    if good.sum() < _LEAST_SAMPLES:
        return nothing, LEVEL_SD
    typical = float(np.median(sd[good]))
    # Standing still the height says nothing: the grade of the way that follows or came before.
    filled = np.interp(time_s, time_s[good], grade[good])
    return filled, float(np.hypot(GRADED_SD, typical))


def _slope(time_s: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    value, rate = local_lines(time_s, values, time_s, _GRADE_HALF_S)
    return np.nan_to_num(rate), value


def _height_noise(height_m: FloatArray) -> float:
    second = height_m[2:] - 2 * height_m[1:-1] + height_m[:-2]
    return max(float(np.std(second)) / 6**0.5, 0.05)


def accelerations(trace: Trace, half_width_s: float) -> FloatArray:
    """Slope of a line through the speeds around each moment, within its own gear and without gaps; NaN elsewhere."""
    found = np.full(trace.time_s.size, np.nan)
    for piece in trace.pieces(trace.gear > 0):
        if piece.stop - piece.start >= 4:
            t = trace.time_s[piece]
            half = max(half_width_s, 2.1 * trace.step_s)
            # At the ends the window is moved inwards, so that it stays as wide.
            centre = np.clip(t, min(t[0] + half, t.mean()), max(t[-1] - half, t.mean()))
            found[piece] = local_lines(t, trace.speed_mps[piece], centre, half + 1e-6)[1]
    return found
