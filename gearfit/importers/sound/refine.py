"""Sharpens a course of the engine speed by the phases of its multiples.

The sound is turned back by the phase of each multiple of the course found so far; what remains turns slowly, at the
multiple times the error of the course. The errors of all multiples are averaged with weights k^2 SNR_k, as the phase
of the k-th turns k times as fast (least squares for independent phases). The standard error has two parts: the scatter
of the multiples, and that of the course from moment to moment, as firings that come early or late move all multiples.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import signal

from gearfit.importers.sound.audio import Audio
from gearfit.importers.sound.contrast import HIGHEST_HZ, HOP_S, LOWEST_HZ, WINDOWS_S, window_shares
from gearfit.importers.sound.orders import Floats, Orders

Turned = NDArray[np.complex64]

#: Blocks to which the turned sound is averaged, s; phases are compared over two of them.
_BLOCK_S: Final = 0.01
#: Multiples with less signal to noise have no weight; more than this has no more.
_LEAST_SNR, _MOST_SNR = 4.0, 100.0
#: Blocks worked on at once.
_BLOCKS_AT_ONCE: Final = 5000
#: Moments over which the scatter is taken, and the relative scatter assumed where there are too few.
_SPAN, _UNKNOWN = 41, 0.005
#: The first passes listen to multiples whose error the windows can hold: this share of the spacing of multiples.
_PASSES: Final = (0.35, 1.0, 1.0)


@dataclass(frozen=True, eq=False)
class Course:
    """Engine speed at moments of the sound: (n,) each; NaN where no multiple stands out."""

    time_s: Floats
    engine_rpm: Floats
    rpm_sd_rpm: Floats


def refine(audio: Audio, orders: Orders, time_s: Floats, rpm: Floats) -> Course:
    """Sharpen a course.

    Parameters
    ----------
    audio : Audio
        The sound.
    orders : Orders
        What the engine sounds at.
    time_s, rpm : (n,) ndarray of float
        Moments, evenly spaced, and the course found so far.
    """
    smooth = np.convolve(np.pad(np.log(rpm), 1, mode="edge"), (0.25, 0.5, 0.25), mode="valid")
    course = np.exp(smooth)
    sd = np.full(course.size, np.nan)
    for number, share in enumerate(_PASSES, 1):
        used = orders.heard <= max(share * orders.heard[-1], orders.heard[0])
        averaged, error, sd, found = _error(audio, orders, used, time_s, course)
        # The error is that of the course's average: a rough course is replaced, a smooth one corrected (twicing).
        course = (course if number == len(_PASSES) else averaged) * np.where(found, 1 + error, 1.0)
        sd = np.where(found, sd, np.nan)
    known = np.isfinite(sd)
    course = np.where(known, course, np.nan)
    sd = np.hypot(sd, _unsteadiness(np.log(course), orders.spacing * course / 60 * orders.cycles_per_turn))
    return Course(time_s, course, sd * course)


def _error(
    audio: Audio, orders: Orders, used: NDArray[np.bool_], time_s: Floats, course: Floats
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Average the course over the windows; relative error of that, its standard error, and where there is one."""
    heard, between = orders.heard[used], orders.below[used]
    turned = _turned(audio, orders, time_s, course, np.concatenate((heard, between)))
    block_s = np.arange(turned.shape[1]) * _BLOCK_S + _BLOCK_S / 2
    cycle_hz = course / 60 * orders.cycles_per_turn
    shares = window_shares(orders.spacing * cycle_hz)
    near = np.clip(np.searchsorted(block_s, time_s), 1, block_s.size - 2)
    slope, snr = np.zeros((heard.size, time_s.size)), np.zeros((heard.size, time_s.size))
    longest = np.argmax(shares, axis=0)
    course_of_blocks = np.interp(block_s, time_s, course)
    averaged = course.copy()
    for number, window_s in enumerate(WINDOWS_S):
        rows = np.flatnonzero(longest == number)
        if not rows.size:
            continue
        window = signal.windows.hann(max(3, round(window_s / _BLOCK_S)) | 1).astype(np.float32)
        at = near[rows]
        half = window.size // 2
        padded = np.pad(course_of_blocks, half, mode="edge")
        averaged[rows] = np.convolve(padded, window / window.sum(), mode="valid")[at]
        for number_heard in range(heard.size):
            loud = signal.oaconvolve(turned[number_heard], window, mode="same")
            quiet = np.abs(signal.oaconvolve(turned[heard.size + number_heard], window, mode="same")[at]) ** 2
            step = loud[at + 1] * np.conj(loud[at - 1])
            slope[number_heard, rows] = np.angle(step) / (2 * np.pi * 2 * _BLOCK_S)
            snr[number_heard, rows] = np.abs(step) / np.maximum(_averaged(quiet), 1e-20)
    hz = np.outer(heard, cycle_hz)
    inside = (hz > LOWEST_HZ) & (hz < HIGHEST_HZ) & (snr > _LEAST_SNR)
    weight = np.where(inside, heard[:, None] ** 2 * np.minimum(snr, _MOST_SNR), 0.0)
    total = weight.sum(axis=0)
    found = total > 0
    total = np.where(found, total, 1.0)
    each = slope / hz
    error = (weight * each).sum(axis=0) / total
    deviation = (weight**2 * (each - error) ** 2).sum(axis=0) / total**2
    count = np.maximum(total**2 / np.maximum((weight**2).sum(axis=0), 1e-30), 1.0)
    enough = found & (count > 1.5)
    variance = deviation * count / np.maximum(count - 1, 0.5)
    return averaged, error, np.sqrt(_steadied(variance, enough)), enough


def _averaged(power: Floats) -> Floats:
    """Average noise over nine moments: that of a single one is often far too small."""
    return np.convolve(np.pad(power, 4, mode="edge"), np.full(9, 1 / 9), mode="valid")


def _unsteadiness(log_rpm: Floats, spacing_hz: Floats) -> Floats:
    """Relative scatter from moment to moment: second differences over half a window, their median over `_SPAN`.

    A second difference of white noise has 6 times its variance; the median of |x| of a normal distribution of unit
    variance is 0.6745. True changes of speed are in it too, which makes it rather too large than too small.
    """
    longest = np.argmax(window_shares(np.nan_to_num(spacing_hz, nan=1e3)), axis=0)
    scatter = np.full(log_rpm.size, np.nan)
    for number, window_s in enumerate(WINDOWS_S):
        stride = max(1, round(window_s / 2 / HOP_S))
        if log_rpm.size <= 2 * stride:
            continue
        second = np.full(log_rpm.size, np.nan)
        second[stride:-stride] = np.abs(log_rpm[2 * stride :] - 2 * log_rpm[stride:-stride] + log_rpm[: -2 * stride])
        middle = pd.Series(second).rolling(_SPAN, center=True, min_periods=5).median().to_numpy()
        scatter = np.where(longest == number, middle / 0.6745 / np.sqrt(6.0), scatter)
    return np.where(np.isfinite(scatter), scatter, _UNKNOWN)


def _turned(audio: Audio, orders: Orders, time_s: Floats, course: Floats, multiples: Floats) -> Turned:
    """Turn the sound back by each multiple of the course's phase; blocks of `_BLOCK_S`, shape (multiples, blocks)."""
    block = round(_BLOCK_S * audio.rate_hz)
    n = audio.samples.size // block * block
    result = np.zeros((multiples.size, n // block), dtype=np.complex64)
    wanted = np.rint(2 * multiples).astype(np.int64)
    passed = 0.0
    for start in range(0, n, _BLOCKS_AT_ONCE * block):
        samples = audio.samples[start : min(start + _BLOCKS_AT_ONCE * block, n)]
        at_s = (start + np.arange(samples.size)) / audio.rate_hz
        half_hz = np.interp(at_s, time_s, course) / 60 * orders.cycles_per_turn / 2
        phase = passed + np.cumsum(half_hz) / audio.rate_hz
        passed = float(phase[-1] % 1.0)
        once = np.exp(-2j * np.pi * (phase % 1.0)).astype(np.complex64)
        turned = samples.astype(np.complex64)
        blocks = slice(start // block, (start + samples.size) // block)
        for halves in range(1, int(wanted.max()) + 1):
            turned *= once
            for row in np.flatnonzero(wanted == halves):
                result[row, blocks] = turned.reshape(-1, block).mean(axis=1)
    return result


def _steadied(variance: Floats, enough: NDArray[np.bool_]) -> Floats:
    """Average variances over a third of a second: those of single moments rest on few multiples."""
    kernel = np.ones(7)
    weight = np.convolve(enough.astype(np.float64), kernel, mode="same")
    return np.convolve(np.where(enough, variance, 0.0), kernel, mode="same") / np.maximum(weight, 1.0)
