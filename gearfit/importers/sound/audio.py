"""Samples out of WAV and FLAC files, mixed down to one channel and thinned out."""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.content import Content
from gearfit.importers.common.options import ReadOptions
from gearfit.records.words import count

Samples = NDArray[np.float32]

#: Rate to which recordings are thinned out: the harmonics that are listened to lie below half of it.
RATE_HZ: Final = 6000
_LOWEST_RATE_HZ, _HIGHEST_RATE_HZ = 4000, 200_000
#: Coding, channels, samples a second, bytes a second, bytes of a frame, bits of a sample.
_HEADER: Final = "HHIIHH"
_BLOCK: Final = 2_000_000
#: A sample at this share of full scale is clipped.
_FULL: Final = 0.999


@dataclass(frozen=True, eq=False)
class Audio:
    """A recording, mono.

    Attributes
    ----------
    rate_hz : float
        Samples a second of `samples`.
    samples : ndarray of float32
        Thinned out, full scale 1.
    clipped : ndarray of float32
        Share of clipped samples in the original around each of `samples`.
    """

    rate_hz: float
    samples: Samples
    clipped: Samples


def is_sound(content: Content, _: ReadOptions) -> bool:
    """Whether a file begins as WAV or FLAC does."""
    return _is_wav(content.head) or content.head.startswith(b"fLaC")


def _is_wav(data: bytes) -> bool:
    return data[:4] in (b"RIFF", b"RIFX", b"RF64") and data[8:12] == b"WAVE"


def read_audio(content: Content) -> tuple[Audio, list[str]]:
    """Read a recording, and say what was noticed.

    Raises
    ------
    LogError
        The file is damaged, coded in a way that is not read, too short, or sampled too slowly.
    """
    rate_hz, samples, notes = _wav(content) if _is_wav(content.data) else _flac(content)
    if not _LOWEST_RATE_HZ <= rate_hz <= _HIGHEST_RATE_HZ:
        raise LogError(
            content.name,
            f"the sound has {rate_hz} samples a second; allowed is {_LOWEST_RATE_HZ} to {_HIGHEST_RATE_HZ} (most "
            "recorders write 44100 or 48000)",
            "Export the sound again at its full rate",
        )
    if samples.shape[0] < rate_hz:
        raise LogError(
            content.name,
            f"the sound lasts {samples.shape[0] / rate_hz:.2f} s; allowed is 1 s or more",
            "Record the ride again",
        )
    return _thinned(rate_hz, samples), notes


def _wav(content: Content) -> tuple[int, NDArray[np.generic], list[str]]:
    from scipy.io import wavfile

    stated = _stated(content.head)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            if stated is None or stated.bytes_a_frame != stated.channels * -(-stated.bits // 8):
                raise ValueError("frames that hold other samples than stated would be read at a wrong rate")
            rate_hz, samples = wavfile.read(io.BytesIO(content.data))
        except Exception as error:  # headers that lie lead the library into errors of any kind
            raise _damaged(content.name, "WAV", str(stated or "its header states nothing of the sound")) from error
    notes = ["The sound file is cut; what is there was read."] if any("EOF" in str(w.message) for w in said) else []
    return int(rate_hz), samples, notes


def _flac(content: Content) -> tuple[int, NDArray[np.generic], list[str]]:
    try:
        import soundfile
    except ImportError as error:
        raise LogError(
            content.name,
            "this is FLAC, for which the package soundfile is needed; allowed without it is WAV",
            "Install gearfit[sound], or export the sound as WAV",
        ) from error
    try:
        samples, rate_hz = soundfile.read(io.BytesIO(content.data), dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, ValueError, TypeError) as error:
        raise _damaged(content.name, "FLAC", "its parts do not fit together") from error
    return int(rate_hz), samples, []


class _Stated(NamedTuple):
    """What the header of a WAV file states (Microsoft, WAVEFORMATEX)."""

    coding: int
    channels: int
    rate_hz: int
    bytes_a_second: int
    bytes_a_frame: int
    bits: int

    def __str__(self) -> str:
        said = f"coding {self.coding}, {count(self.channels, 'channel')}, {self.rate_hz} samples a second"
        return f"its header states {said}, {count(self.bits, 'bit')} in frames of {count(self.bytes_a_frame, 'byte')}"


def _stated(head: bytes) -> _Stated | None:
    """Read what the header states; None where it states nothing."""
    order = ">" if head.startswith(b"RIFX") else "<"
    stated = head[head.find(b"fmt ") + 8 :][: struct.calcsize(_HEADER)] if b"fmt " in head else b""
    return _Stated(*struct.unpack(order + _HEADER, stated)) if len(stated) == struct.calcsize(_HEADER) else None


def _damaged(name: str, kind: str, found: str) -> LogError:
    return LogError(
        name,
        f"the {kind} file is damaged or coded in another way ({found}); allowed is plain PCM of 8 to 32 bits or float",
        "Export the sound as WAV, for example with: ffmpeg -i VIDEO -vn -ac 1 -c:a pcm_s16le engine.wav",
    )


def _thinned(rate_hz: int, samples: NDArray[np.generic]) -> Audio:
    """Mix to mono and take every q-th sample after a low-pass filter, block by block to save memory."""
    from scipy import signal

    q = max(1, rate_hz // RATE_HZ)
    taps = signal.firwin(16 * q + 1, 0.9 / q).astype(np.float32) if q > 1 else np.ones(1, dtype=np.float32)
    half = taps.size // 2
    block = _BLOCK // q * q
    thin, clipped = [], []
    for start in range(0, samples.shape[0], block):
        lead = min(start, half)
        part = _mono(samples[start - lead : start + block + half])
        full = (np.abs(part[lead : lead + block]) >= _FULL).astype(np.float32)
        whole = full[: full.size // q * q].reshape(-1, q).mean(axis=1)
        filtered = signal.oaconvolve(np.pad(part, (half - lead, 0)), taps, mode="full")[2 * half :][:block:q]
        size = min(whole.size, filtered.size)
        thin.append(filtered[:size].astype(np.float32))
        clipped.append(whole[:size])
    return Audio(rate_hz / q, np.concatenate(thin), np.concatenate(clipped))


def _mono(samples: NDArray[np.generic]) -> Samples:
    scale = {"u1": 128.0, "i2": 32768.0, "i4": 2147483648.0, "i8": 9.223372036854775808e18}
    kind = samples.dtype.str[1:]
    values = samples.astype(np.float32)
    if kind == "u1":
        values -= np.float32(128.0)
    values /= np.float32(scale.get(kind, 1.0))
    mono: Samples = values if values.ndim == 1 else values.mean(axis=1)
    return np.nan_to_num(mono, posinf=1.0, neginf=-1.0).clip(-1.0, 1.0)
