"""How well each engine speed explains the sound of each moment.

The logarithm of the spectrum, flattened over a broad band, is read at the multiples of the working cycle that an engine
of that speed would sound at, and halfway between them, where it should be quiet. The sum of the differences is the
contrast. Half or a third of the true speed leaves many of its multiples quiet; double the speed finds sound between
them: both have a lower contrast than the truth. The sum of n differences is divided by sqrt(n), so that noise alone
scatters alike for every speed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage, signal

from gearfit.importers.sound.audio import Audio
from gearfit.importers.sound.orders import Floats, Orders

#: Moments are so far apart, s.
HOP_S: Final = 0.05
#: Lengths of the spectra, s; the shortest that holds this many periods of the closest multiples is used.
WINDOWS_S: Final = (0.1, 0.2, 0.4)
PERIODS: Final = 5.0
#: Band that is listened to, Hz, and width over which the spectrum is flattened.
LOWEST_HZ, HIGHEST_HZ = 40.0, 2400.0
_FLAT_HZ: Final = 500.0
#: Logarithms are cut off here, so that no single tone decides.
_QUIETEST, _LOUDEST = -2.0, 2.5
_FRAMES_AT_ONCE: Final = 400
#: Each so-manieth multiple is compared with the others; a mean difference up to this is no matter.
EVERY: Final = (2, 3, 4)
_EVEN_ENOUGH: Final = np.float32(0.3)
#: Changes of speed that the longer spectra allow for, share in a second: the best of them counts.
RATES_PER_S: Final = (-0.5, 0.0, 0.5)


@dataclass(frozen=True, eq=False)
class Contrast:
    """Contrast of each engine speed at each moment.

    Attributes
    ----------
    time_s : (n,) float
        Moments.
    rpm : (m,) float
        Engine speeds, evenly spaced in their logarithm.
    value : (n, m) float32
        Contrast, in natural logarithms of power for one multiple.
    """

    time_s: Floats
    rpm: Floats
    value: NDArray[np.float32]


def contrast_of(audio: Audio, orders: Orders, rpm: Floats) -> Contrast:
    """Compute the contrast of every engine speed at every moment."""
    hop = round(HOP_S * audio.rate_hz)
    centres = np.arange(0, audio.samples.size, hop)
    value = np.zeros((centres.size, rpm.size), dtype=np.float32)
    cycle_hz = rpm / 60 * orders.cycles_per_turn
    share = window_shares(orders.spacing * cycle_hz)
    for window_s, part in zip(WINDOWS_S, share, strict=True):
        used = np.flatnonzero(part > 0)
        if not used.size:
            continue
        size = fft.next_fast_len(2 * round(window_s * audio.rate_hz), real=True)
        places = _places(orders, cycle_hz[used], size / audio.rate_hz)
        length = round(window_s * audio.rate_hz)
        for rows, frames in _frames(audio, centres, length):
            best = np.full((rows.size, used.size), -np.inf, dtype=np.float32)
            for rate in RATES_PER_S if window_s > WINDOWS_S[0] else (0.0,):
                spectrum = _flat_spectrum(_straightened(frames, rate / audio.rate_hz), size, audio.rate_hz)
                best = np.maximum(best, _read(spectrum, *places, orders.even))
            value[rows[:, None], used] += part[used].astype(np.float32) * best
    return Contrast(centres / audio.rate_hz, rpm, value)


def window_shares(spacing_hz: Floats) -> list[Floats]:
    """Share of each window for multiples that lie so far apart: the two nearest, in proportion to log length."""
    place = np.interp(np.log(PERIODS / spacing_hz), np.log(WINDOWS_S), np.arange(len(WINDOWS_S)))
    return [np.clip(1 - np.abs(place - number), 0, 1) for number in range(len(WINDOWS_S))]


def _frames(
    audio: Audio, centres: NDArray[np.int64], length: int
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.float32]]]:
    """Yield numbers of moments, and the sound around each of them."""
    views = np.lib.stride_tricks.sliding_window_view(np.pad(audio.samples, (length // 2, length)), length)
    for start in range(0, centres.size, _FRAMES_AT_ONCE):
        rows = np.arange(start, min(start + _FRAMES_AT_ONCE, centres.size))
        yield rows, views[centres[rows]]


def _straightened(frames: NDArray[np.float32], rate: float) -> NDArray[np.float32]:
    """Stretch time in each frame so that a speed that changes by the share `rate` in a sample stands still."""
    if rate == 0.0:
        return frames
    at = np.arange(frames.shape[1]) - frames.shape[1] / 2
    place = np.clip(at - rate * at**2 / 2 + frames.shape[1] / 2, 0, frames.shape[1] - 1.001)
    left = place.astype(np.int64)
    share = (place - left).astype(np.float32)
    straight: NDArray[np.float32] = frames[:, left] * (1 - share) + frames[:, left + 1] * share
    return straight


def _flat_spectrum(frames: NDArray[np.float32], size: int, rate_hz: float) -> NDArray[np.float32]:
    """Logarithm of the power spectrum of each frame against its mean over a broad band.

    The mean is that of the power, not of the logarithm: multiples that are far weaker than their neighbours, as unequal
    cylinders leave them, lie below it and do not count as heard.
    """
    window = signal.windows.hann(frames.shape[1], sym=False).astype(np.float32)
    bins = int(1.1 * HIGHEST_HZ * size / rate_hz)
    spectrum = fft.rfft(frames * window, size, axis=1)[:, :bins]
    power = spectrum.real**2 + spectrum.imag**2 + np.float32(1e-9)
    level = ndimage.uniform_filter1d(power, max(3, round(_FLAT_HZ * size / rate_hz)), axis=1, mode="nearest")
    flat = np.log(power / np.maximum(level, np.float32(1e-9)))
    clipped: NDArray[np.float32] = np.clip(flat, _QUIETEST, _LOUDEST)
    return clipped


def _places(
    orders: Orders, cycle_hz: Floats, bins_per_hz: float
) -> tuple[list[NDArray[np.int64]], NDArray[np.float32]]:
    """Bins of the multiples and of the quiet places below and above, and weights, shape (multiples, speeds) each."""
    places_hz = [np.outer(multiples, cycle_hz) for multiples in (orders.heard, orders.below, orders.above)]
    inside = (places_hz[1] > LOWEST_HZ) & (places_hz[2] < HIGHEST_HZ)
    weight = np.where(inside, orders.strength[:, None], 0.0)
    weight /= np.maximum(np.sqrt((weight**2).sum(axis=0)), 1e-9)
    top = int(1.1 * HIGHEST_HZ * bins_per_hz) - 1
    at = [np.minimum(np.rint(hz * bins_per_hz).astype(np.int64), top) for hz in places_hz]
    return at, weight.astype(np.float32)


def _read(
    spectrum: NDArray[np.float32], places: list[NDArray[np.int64]], weight: NDArray[np.float32], even: bool
) -> NDArray[np.float32]:
    """Contrast of each speed, less what speaks against it where the firing is even: see `_unevenness`."""
    shape = (spectrum.shape[0], weight.shape[1])
    total, level = np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    every = {number: np.zeros(shape, dtype=np.float32) for number in EVERY}
    half = np.float32(0.5)
    for multiple, (heard, below, above, share) in enumerate(zip(*places, weight, strict=True), 1):
        used = np.flatnonzero(share)
        if not used.size:
            continue
        loud = spectrum[:, heard[used]]
        total[:, used] += share[used] * (loud - half * (spectrum[:, below[used]] + spectrum[:, above[used]]))
        if even:
            level[:, used] += loud
            for number in EVERY:
                if multiple % number == 0:
                    every[number][:, used] += loud
    return total - _unevenness(level, every, weight > 0) if even else total


def _unevenness(
    level: NDArray[np.float32], every: dict[int, NDArray[np.float32]], inside: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """By how much each second, third or fourth multiple is louder than the others, times the root of their number.

    Cylinders that pull unequally make faint sound at parts of the firing frequency. A speed that is half, a third or
    a quarter of another multiple finds all its multiples heard, but only each second, third or fourth of them loud.
    """
    count = inside.sum(axis=0)
    worst = np.zeros_like(level)
    for number, loud in every.items():
        members = inside[number - 1 :: number].sum(axis=0)
        comparable = (members > 0) & (count > members)
        mean = loud / np.maximum(members, 1) - (level - loud) / np.maximum(count - members, 1)
        worst = np.maximum(worst, np.where(comparable, mean, 0.0))
    against: NDArray[np.float32] = np.sqrt(count).astype(np.float32) * np.maximum(worst - _EVEN_ENOUGH, 0.0)
    return against.astype(np.float32)
