"""A small spectrogram of a sound recording, by which a person can judge what was heard."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy import signal

from gearfit.importers.sound.audio import Audio
from gearfit.importers.sound.contrast import HIGHEST_HZ
from gearfit.importers.sound.orders import Floats
from gearfit.records.recording import SoundPicture

_COLUMNS, _ROWS = 600, 160
_WINDOW_S: Final = 0.2
#: How many times the highest firing frequency is shown, and how far below the loudest, dB.
_MULTIPLES_SHOWN, _DEPTH_DB = 3.2, 60.0


def picture_of(audio: Audio, file: str, time_s: Floats, engine_rpm: Floats, firings_per_turn: float) -> SoundPicture:
    """Make the picture; `engine_rpm` is NaN where the moment was left out."""
    length = round(_WINDOW_S * audio.rate_hz)
    count = int(min(_COLUMNS, max(2, audio.samples.size // (length // 2))))
    starts = np.linspace(0, max(audio.samples.size - length, 0), count).astype(np.int64)
    window = signal.windows.hann(length, sym=False).astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(np.pad(audio.samples, (0, length)), length)[starts]
    power = np.abs(np.fft.rfft(frames * window, axis=1)) ** 2
    hz = np.fft.rfftfreq(length, 1 / audio.rate_hz)
    highest_rpm = np.nanmax(engine_rpm)
    top_hz = float(min(HIGHEST_HZ, _MULTIPLES_SHOWN * highest_rpm / 60 * firings_per_turn))
    rows_hz = np.linspace(0, top_hz, _ROWS)
    level = 10 * np.log10(np.maximum(power, 1e-12))
    shown = np.array([np.interp(rows_hz, hz, column) for column in level]).T
    return SoundPicture(
        file=file,
        time_s=np.asarray((starts + length / 2) / audio.rate_hz, dtype=np.float64),
        frequency_hz=rows_hz,
        level_db=np.maximum(shown - shown.max(), -_DEPTH_DB).astype(np.float32),
        ridge_time_s=time_s,
        ridge_rpm=engine_rpm,
        firings_per_turn=firings_per_turn,
    )
