"""Finds by how much the clocks of two recorders differ, from the ride itself.

Speed and engine speed rise and fall together while a gear is in, so the rates of change of their logarithms agree best
at the true offset: their cross-correlation (by Fourier transform) gives candidates. At the true offset the ratios
n/v crowd at the gears: of the candidates, the one with the highest crowding
(`gearfit.fitting.pairing.density.concentration`) is taken, if no other comes near it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.density import concentration

FloatArray = NDArray[np.float64]

#: Where a ride begins, s, and the rates of change from there on.
Piece = tuple[float, FloatArray]

#: Both channels are brought to this rate for the cross-correlation, Hz; pauses longer than this are left out, s.
_RATE_HZ: Final = 5.0
_PAUSE_S: Final = 3600.0
#: Rates of change are taken across this time, s, and held at this size, 1/s.
_ACROSS_S: Final = 0.8
_LARGEST_RATE: Final = 0.5
#: Candidates tried, at least this far apart, s.
_CANDIDATES: Final = 24
_APART_S: Final = 2.0
#: The crowding is looked at this far around each candidate, s, at most this many samples at a time.
_AROUND_S: Final = 1.0
_SAMPLES: Final = 2500
#: Rivals that are always there, s: offsets a little aside, where nothing should crowd.
_ASIDE_S: Final = (-11.0, -5.0, 5.0, 11.0)
#: Candidates that are looked at in steps of a tenth of a second.
_REFINED: Final = 4
#: The two recordings must share this much moving time, s.
LEAST_OVERLAP_S: Final = 60.0
#: ... and this share of the shorter one: a few samples crowd anywhere.
_LEAST_SHARE: Final = 0.4
#: ln of the crowding by which the best must lead every other offset.
LEAST_LEAD: Final = 0.3
#: Width with which ratios are smeared, ln ratio, beside the speed's error, m/s.
_WIDTH: Final = 0.006
_SPEED_SD_MPS: Final = 0.1
_STANDING_MPS: Final = 2.0
_LEAST_RPM: Final = 400.0


@dataclass(frozen=True)
class Alignment:
    """Offset of two clocks.

    Attributes
    ----------
    offset_s : float
        To be added to the engine-speed clock to get the speed clock (to a tenth of a second or so; the lag of the fit
        does the rest).
    lead : float
        ln of the crowding here over that at the next best offset (infinite without another).
    """

    offset_s: float
    lead: float

    @property
    def unique(self) -> bool:
        """Whether no other offset comes near."""
        return self.lead >= LEAST_LEAD


def align(
    speed_time_s: FloatArray,
    speed_mps: FloatArray,
    rpm_time_s: FloatArray,
    engine_rpm: FloatArray,
    lowest_s: float,
    highest_s: float,
) -> Alignment | None:
    """Find the offset between `lowest_s` and `highest_s`; None where the recordings share too little moving time.

    Parameters
    ----------
    speed_time_s, speed_mps : (n,) float
        Speeds on their clock, times ascending.
    rpm_time_s, engine_rpm : (m,) float
        Engine speeds on theirs, times ascending.
    """
    rough_s = candidates(speed_time_s, speed_mps, rpm_time_s, engine_rpm, lowest_s, highest_s)
    step = max(1, int(np.ceil(speed_time_s.size / _SAMPLES)))
    thinned = speed_time_s[::step], speed_mps[::step]
    log_rpm = np.log(np.maximum(engine_rpm, 1.0))
    rough = [
        max(
            ((o, _crowding(*thinned, rpm_time_s, log_rpm, o)) for o in _grid(c, _AROUND_S, 0.5)),
            key=lambda pair: pair[1],
        )
        for c in rough_s
    ]
    rough = sorted((pair for pair in rough if np.isfinite(pair[1])), key=lambda pair: -pair[1])
    if not rough:
        return None
    tried = rough[_REFINED:] + [
        max(((o, _crowding(*thinned, rpm_time_s, log_rpm, o)) for o in _grid(r, 0.5, 0.1)), key=lambda pair: pair[1])
        for r, _ in rough[:_REFINED]
    ]
    offset_s, crowding = max(tried, key=lambda pair: pair[1])
    others = [c for o, c in tried if abs(o - offset_s) > _APART_S]
    others += [_crowding(*thinned, rpm_time_s, log_rpm, offset_s + aside) for aside in _ASIDE_S]
    return Alignment(float(offset_s), float(crowding - max(others)) if others else np.inf)


def _grid(middle: float, reach: float, step: float) -> FloatArray:
    return middle + np.arange(-reach, reach + step / 2, step)


def _crowding(
    speed_time_s: FloatArray, speed_mps: FloatArray, rpm_time_s: FloatArray, log_rpm: FloatArray, offset_s: float
) -> float:
    """Ln of the crowding of ratios at one offset; -inf where too little riding is shared."""
    found = np.interp(speed_time_s - offset_s, rpm_time_s, log_rpm, left=np.nan, right=np.nan)
    good = (speed_mps > _STANDING_MPS) & (found > np.log(_LEAST_RPM))
    moving_s = float(np.median(np.diff(speed_time_s))) * float(np.sum(speed_mps > _STANDING_MPS))
    running_s = float(np.median(np.diff(rpm_time_s))) * float(np.sum(log_rpm > np.log(_LEAST_RPM)))
    shared_s = float(np.median(np.diff(speed_time_s))) * float(good.sum())
    if shared_s < max(LEAST_OVERLAP_S, _LEAST_SHARE * min(moving_s, running_s)):
        return -np.inf
    speed = speed_mps[good]
    return float(np.log(concentration(found[good] - np.log(speed), np.hypot(_SPEED_SD_MPS / speed, _WIDTH))))


def candidates(
    speed_time_s: FloatArray,
    speed_mps: FloatArray,
    rpm_time_s: FloatArray,
    engine_rpm: FloatArray,
    lowest_s: float,
    highest_s: float,
) -> list[float]:
    """Offsets at which the rates of change of any two pieces agree best, best first; parameters as `align`."""
    ours = _rates(speed_time_s, speed_mps, _STANDING_MPS)
    theirs = _rates(rpm_time_s, engine_rpm, _LEAST_RPM)
    least = 0.05 * sum(float(np.sum(rate**2)) for _, rate in ours) + 1e-12
    pairs = [_agreement(one, other, least) for one in ours for other in theirs]
    offset_s, score = (np.concatenate(column) for column in zip(*pairs, strict=True))
    allowed = (offset_s >= lowest_s) & (offset_s <= highest_s)
    score, offset_s = score[allowed], offset_s[allowed]
    found: list[float] = []
    while len(found) < _CANDIDATES and score.size and np.isfinite(score).any():
        best = int(np.argmax(score))
        if score[best] <= 0:
            break
        found.append(float(offset_s[best]))
        score[np.abs(offset_s - offset_s[best]) < _APART_S] = -np.inf
    return found


def _agreement(one: Piece, other: Piece, least: float) -> tuple[FloatArray, FloatArray]:
    """Offsets at which two pieces overlap, and how well their rates of change agree there."""
    (ours_s, ours), (theirs_s, theirs) = one, other
    size = 1 << int(np.ceil(np.log2(ours.size + theirs.size)))
    product = np.fft.irfft(np.fft.rfft(ours, size) * np.conj(np.fft.rfft(theirs, size)), size)
    energy = np.fft.irfft(np.fft.rfft(ours**2, size) * np.conj(np.fft.rfft((theirs != 0) * 1.0, size)), size)
    lag = np.arange(-theirs.size + 1, ours.size)
    return lag / _RATE_HZ + ours_s - theirs_s, product[lag] / np.sqrt(np.maximum(energy[lag], least))


def _rates(time_s: FloatArray, values: FloatArray, least: float) -> list[Piece]:
    """Rate of change of ln values on a regular grid; values below `least` count as `least`.

    A ride with long pauses is cut there: a grid across them would be as long as they are.
    """
    cuts = np.flatnonzero(np.diff(time_s) > _PAUSE_S) + 1
    pieces = zip(np.split(time_s, cuts), np.split(values, cuts), strict=True)
    return [(float(t[0]), _rate(t, v, least)) for t, v in pieces if t[-1] > t[0]]


def _rate(time_s: FloatArray, values: FloatArray, least: float) -> FloatArray:
    grid = np.arange(time_s[0], time_s[-1], 1 / _RATE_HZ)
    held = np.interp(grid, time_s, values)
    smooth = np.log(np.maximum(held, least))
    half = int(_ACROSS_S * _RATE_HZ / 2)
    rate = np.zeros(grid.size)
    if grid.size > 2 * half:
        rate[half : grid.size - half] = (smooth[2 * half :] - smooth[: grid.size - 2 * half]) / (2 * half / _RATE_HZ)
    clipped: FloatArray = np.clip(rate, -_LARGEST_RATE, _LARGEST_RATE)
    return clipped
