"""The sound of an invented engine, and what a camera makes of it.

Firings are pulses at the crank angles at which the cylinders fire; each cylinder has a strength of its own, each firing
scatters, and pipes and boxes ring (resonators). Nothing here knows how the importer finds the engine speed.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from scipy import signal
from scipy.io import wavfile

from gearfit.machine.bike import Engine
from tests.simulator.road import Floats

#: Strength of the pulses without load, as a share of that under full load.
_IDLE_SHARE = 0.25
#: Scatter of the strength from cylinder to cylinder and from firing to firing, and of the crank angle in degrees.
_CYLINDER_SD, _FIRING_SD, _ANGLE_SD = 0.15, 0.15, 1.5
#: Resonances of exhaust and intake: Hz, quality, share.
_RESONANCES = ((110.0, 1.5, 1.0), (280.0, 3.0, 0.7), (760.0, 5.0, 0.5), (1900.0, 6.0, 0.25))
#: Broadband noise of intake, exhaust and machinery, as a share of the level of the pulses.
_HISS_SHARE = 0.15


@dataclass(frozen=True)
class Microphone:
    """How a sound is recorded.

    Attributes
    ----------
    wind_db : float or None
        Level of wind noise against the engine's mean level, dB; None for none.
    automatic_gain : bool
        Whether the recorder holds the level by itself, as cameras do.
    band_hz : tuple of float or None
        Lowest and highest frequency that a lossy format kept; None for all.
    peak : float
        Highest level written where 1 is full scale; above 1 the recording clips.
    """

    wind_db: float | None = None
    automatic_gain: bool = False
    band_hz: tuple[float, float] | None = None
    peak: float = 0.7


def engine_sound(
    time_s: Floats, engine_rpm: Floats, load: Floats, engine: Engine, rng: np.random.Generator, rate_hz: int = 48_000
) -> Floats:
    """Sound at the engine, mean square 1 over all.

    Parameters
    ----------
    time_s, engine_rpm, load : ndarray of float
        Moments in rising order, engine speed, and load from 0 to 1.
    engine : Engine
        Cylinders (1 where not stated), strokes (4) and firing (even) say when it fires.
    rng : numpy.random.Generator
        Source of everything random.
    rate_hz : int
        Samples a second.
    """
    n = round((time_s[-1] - time_s[0]) * rate_hz)
    at_s = time_s[0] + np.arange(n) / rate_hz
    turned_deg = np.concatenate(([0.0], np.cumsum(np.interp(at_s, time_s, engine_rpm)[:-1]))) * 6.0 / rate_hz
    intervals = engine.firing or (engine.cycle_degrees / (engine.cylinders or 1),) * (engine.cylinders or 1)
    in_cycle = np.concatenate(([0.0], np.cumsum(intervals)[:-1]))
    cycles = np.arange(int(turned_deg[-1] // engine.cycle_degrees))
    fired_deg = (cycles[:, None] * engine.cycle_degrees + in_cycle).ravel()
    fired_deg = np.clip(fired_deg + rng.normal(0, _ANGLE_SD, fired_deg.size), 0, turned_deg[-1])
    place = np.interp(fired_deg, turned_deg, np.arange(n, dtype=np.float64))
    cylinder = np.tile(1 + rng.normal(0, _CYLINDER_SD, in_cycle.size), cycles.size)
    pull = _IDLE_SHARE + (1 - _IDLE_SHARE) * np.interp(at_s, time_s, load)
    strength = cylinder * (1 + rng.normal(0, _FIRING_SD, place.size)) * np.interp(place, np.arange(n), pull)
    pulses = np.zeros(n + 1)
    left = np.minimum(place.astype(np.int64), n - 1)
    np.add.at(pulses, left, strength * (1 - (place - left)))
    np.add.at(pulses, left + 1, strength * (place - left))
    heard = np.zeros(n)
    for centre_hz, quality, share in _RESONANCES:
        if centre_hz < 0.45 * rate_hz:
            b, a = signal.iirpeak(centre_hz, quality, fs=rate_hz)
            part = signal.lfilter(b, a, pulses[:-1])
            heard += share * part / np.sqrt(np.mean(part**2))
    heard /= np.sqrt(np.mean(heard**2))
    heard += _HISS_SHARE * pull * rng.standard_normal(n)
    sound: Floats = heard / np.sqrt(np.mean(heard**2))
    return sound


def recorded(sound: Floats, microphone: Microphone, rng: np.random.Generator, rate_hz: int = 48_000) -> Floats:
    """Return what the microphone writes, from -1 to 1."""
    heard = sound
    if microphone.wind_db is not None:
        # Turbulence: power falls with the square of frequency above some tens of Hz, in gusts of seconds.
        b, a = signal.butter(1, (20.0, 150.0), "bandpass", fs=rate_hz)
        wind = signal.lfilter(b, a, rng.standard_normal(sound.size))
        gusts = np.interp(np.arange(sound.size), *_gusts(sound.size, rate_hz, rng))
        wind *= gusts
        heard = sound + wind / np.sqrt(np.mean(wind**2)) * 10 ** (microphone.wind_db / 20)
    if microphone.automatic_gain:
        b, a = signal.butter(1, 0.7, fs=rate_hz)
        level = np.sqrt(np.maximum(signal.lfilter(b, a, heard**2), 1e-4))
        heard = heard / (0.05 + level)
    if microphone.band_hz is not None:
        heard = signal.sosfilt(signal.butter(6, microphone.band_hz, "bandpass", fs=rate_hz, output="sos"), heard)
    top = np.quantile(np.abs(heard[:: max(1, heard.size // 1_000_000)]), 0.9999)
    written: Floats = np.clip(heard / top * microphone.peak, -1.0, 1.0)
    return written


def wav_bytes(sound: Floats, rate_hz: int = 48_000) -> bytes:
    """Return a mono WAV file of 16-bit samples."""
    file = io.BytesIO()
    wavfile.write(file, rate_hz, np.round(np.clip(sound, -1, 1) * 32767).astype(np.int16))
    return file.getvalue()


def _gusts(n: int, rate_hz: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    knots = np.arange(0, n + 2 * rate_hz, rate_hz, dtype=np.float64)
    return knots, np.exp(rng.normal(0, 0.4, knots.size))
