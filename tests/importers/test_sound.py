"""Engine speed out of sound: synthesised engines whose speed is known, and what is refused or left out."""

from __future__ import annotations

import io
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, describe, read_folder, read_log
from gearfit.importers.sound.orders import orders_of
from gearfit.machine.bike import Engine
from gearfit.records.recording import Recording
from tests.simulator.sound import Microphone, engine_sound, recorded, wav_bytes

Floats = NDArray[np.float64]
Hear = Callable[..., Recording]
RATE_HZ = 16_000
FOUR = Engine(4, 4)
TWIN = Engine(2, 4, firing=(270.0, 450.0))
#: Knots of an invented ride: pulls, shifts, steady riding, overrun.
KNOTS = np.array(
    [
        (0, 2500, 0.5),
        (3, 7000, 1.0),
        (3.3, 5400, 0.0),
        (6, 8200, 1.0),
        (6.3, 6500, 0.1),
        (11, 6400, 0.5),
        (14, 3500, 0.2),
    ]
)


def ride(seconds: float = 14.0) -> tuple[Floats, Floats, Floats]:
    time_s = np.arange(0, seconds, 0.01)
    rpm, load = (np.interp(time_s, KNOTS[:, 0], KNOTS[:, column]) for column in (1, 2))
    return time_s, rpm, load


def sound_of(engine: Engine, microphone: Microphone, seed: int = 3) -> Floats:
    rng = np.random.default_rng(seed)
    return recorded(engine_sound(*ride(), engine, rng, RATE_HZ), microphone, rng, RATE_HZ)


def relative_error(log: Recording) -> Floats:
    time_s, rpm, _ = ride()
    assert log.start_s is not None
    true = np.interp(log.samples["time_s"].to_numpy() + log.start_s, time_s, rpm)
    error: Floats = log.samples["engine_rpm"].to_numpy() / true - 1
    return error


@pytest.fixture
def hear(tmp_path: Path) -> Hear:
    """Write a sound and read it."""

    def hear(content: bytes, engine: Engine, name: str = "engine.wav") -> Recording:
        path = tmp_path / name
        path.write_bytes(content)
        return read_log(path, options=ReadOptions(engine=engine))

    return hear


@pytest.mark.parametrize(
    "engine", [FOUR, Engine(2, 4), TWIN, Engine(1, 4), Engine(1, 2)], ids=["four", "two", "uneven", "one", "two-stroke"]
)
def test_synthesised_engines(hear: Hear, engine: Engine) -> None:
    log = hear(wav_bytes(sound_of(engine, Microphone()), RATE_HZ), engine)
    assert (log.kind, log.clock, log.speed_source) == ("log", "elapsed", "none")
    error = np.sort(np.abs(relative_error(log)))
    assert error.size * 0.05 > 0.95 * 14
    assert np.sqrt(np.mean(error[: int(0.95 * error.size)] ** 2)) < 0.005
    assert error[-1] < 0.2, "no octave error"


@pytest.mark.parametrize("engine", [FOUR, TWIN], ids=["four", "uneven"])
def test_in_wind_with_automatic_gain_and_a_lossy_band(hear: Hear, engine: Engine) -> None:
    hard = Microphone(wind_db=0.0, automatic_gain=True, band_hz=(60.0, 7000.0))
    log = hear(wav_bytes(sound_of(engine, hard), RATE_HZ), engine)
    error = np.sort(np.abs(relative_error(log)))
    assert error.size * 0.05 > 0.6 * 14
    assert np.sqrt(np.mean(error[: int(0.95 * error.size)] ** 2)) < 0.005
    assert error[-1] < 0.2, "no octave error"


def test_standard_errors_cover_the_truth(hear: Hear) -> None:
    log = hear(wav_bytes(sound_of(FOUR, Microphone()), RATE_HZ), FOUR)
    sd = (log.samples["rpm_sd_rpm"] / log.samples["engine_rpm"]).to_numpy()
    covered = np.mean(np.abs(relative_error(log)) < 2 * sd)
    assert covered > 0.9
    assert np.median(sd) < 0.005


def chord(fundamental_hz: float, count: int = 8, seconds: float = 5.0) -> Floats:
    """A fundamental with its multiples, 1/k strong, and faint noise."""
    time_s = np.arange(0, seconds, 1 / RATE_HZ)
    tones = sum(np.cos(2 * np.pi * fundamental_hz * k * time_s + k * k) / k for k in range(1, count + 1))
    return np.asarray(0.2 * tones + np.random.default_rng(1).normal(0, 1e-3, time_s.size))


@pytest.mark.parametrize(
    ("engine", "fundamental_hz"),
    [(FOUR, 6000 / 60 * 4 / 2), (Engine(2, 4), 6000 / 60 * 2 / 2), (Engine(1, 2), 6000 / 60 * 1)],
)
def test_the_firing_frequency_is_that_of_the_textbooks(hear: Hear, engine: Engine, fundamental_hz: float) -> None:
    """n/60 x cylinders/2 for four strokes, n/60 x cylinders for two (common knowledge, no source)."""
    log = hear(wav_bytes(chord(fundamental_hz), RATE_HZ), engine)
    inner = log.samples["engine_rpm"].to_numpy()[6:-6]
    assert inner.size > 80
    assert np.median(inner) == pytest.approx(6000, rel=2e-5)
    assert inner == pytest.approx(6000, rel=5e-4), "a tenth of the error allowed on engines"


def test_orders_of_engines() -> None:
    """Closed forms: even firing leaves multiples of the firings; two pulses 270 of 720 apart give |cos(3 pi k / 8)|."""
    assert orders_of(FOUR, 4).heard.tolist() == [4, 8, 12, 16]
    assert orders_of(Engine(3, 4), 3).heard.tolist() == [3, 6, 9]
    twin = orders_of(TWIN, 7)
    assert twin.heard.tolist() == [1, 2, 3, 5, 6, 7, 8]
    assert twin.strength == pytest.approx(np.abs(np.cos(3 * np.pi * twin.heard / 8)))


def test_wav_of_any_depth_and_flac_give_the_same(hear: Hear) -> None:
    sound = sound_of(FOUR, Microphone())[: 6 * RATE_HZ]
    plain = hear(wav_bytes(sound, RATE_HZ), FOUR).samples["engine_rpm"].to_numpy()
    for kind, depth, channels in (
        ("WAV", "PCM_U8", 1),
        ("WAV", "PCM_24", 2),
        ("WAV", "PCM_32", 1),
        ("WAV", "FLOAT", 2),
        ("FLAC", "PCM_16", 2),
    ):
        file = io.BytesIO()
        soundfile.write(file, np.tile(sound[:, None], channels), RATE_HZ, format=kind, subtype=depth)
        other = hear(file.getvalue(), FOUR).samples["engine_rpm"].to_numpy()
        assert other.size == pytest.approx(plain.size, abs=3)
        size = min(other.size, plain.size)
        assert np.median(np.abs(other[:size] / plain[:size] - 1)) < 2e-3, (kind, depth)


def test_silent_and_clipped_stretches_are_left_out(hear: Hear) -> None:
    sound = sound_of(FOUR, Microphone())
    sound[: 2 * RATE_HZ] = 0.0
    sound[-3 * RATE_HZ :] = np.clip(8 * sound[-3 * RATE_HZ :], -1, 1)
    log = hear(wav_bytes(sound, RATE_HZ), FOUR)
    at_s = log.samples["time_s"] + (log.start_s or 0)
    assert at_s.min() > 1.9
    assert at_s.max() < 11.2
    assert log.notes[0] == "Engine speed from the sound of an engine with 4 cylinders, 4 strokes, even firing."
    assert [note.split(" left out: ")[1] for note in log.notes[1:3]] == [
        "silent.",
        "clipped (too loud for the recorder).",
    ]
    assert float(log.notes[1].split(" s of ")[0]) == pytest.approx(2.0, abs=0.15)
    assert float(log.notes[2].split(" s of ")[0]) == pytest.approx(3.0, abs=0.3)


def test_wind_alone_is_no_engine(hear: Hear) -> None:
    rng = np.random.default_rng(5)
    wind = recorded(rng.normal(0, 1e-3, 20 * RATE_HZ), Microphone(wind_db=60.0), rng, RATE_HZ)
    with pytest.raises(LogError) as caught:
        hear(wav_bytes(wind, RATE_HZ), FOUR)
    assert str(caught.value).startswith(
        "engine.wav: no engine speed can be made out in 20 s of sound (20.0 s of 20.0 s"
    )


def test_silence(hear: Hear) -> None:
    with pytest.raises(LogError) as caught:
        hear(wav_bytes(np.zeros(3 * RATE_HZ), RATE_HZ), FOUR)
    assert str(caught.value) == (
        "engine.wav: no engine speed can be made out in 3 s of sound (3.0 s of 3.0 s left out: silent). Record with "
        "the microphone near the exhaust or under the seat, out of the wind."
    )


def test_the_cylinders_must_be_known(hear: Hear) -> None:
    with pytest.raises(LogError) as caught:
        hear(wav_bytes(np.zeros(RATE_HZ), RATE_HZ), Engine())
    assert str(caught.value) == (
        "engine.wav: this is a sound recording, and how often the engine fires in a turn is not known. State cylinders "
        "(and strokes, and firing of an unevenly firing engine) under [engine] in bike.toml."
    )


def test_cylinders_come_from_the_bike_file(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    (tmp_path / "before" / "engine").write_bytes(wav_bytes(chord(200.0), RATE_HZ))
    (tmp_path / "bike.toml").write_text("[engine]\ncylinders = 4\nstrokes = 4\n", "utf-8")
    (log,) = read_folder(tmp_path).setups[0].recordings
    assert log.samples["engine_rpm"].median() == pytest.approx(6000, rel=1e-4)
    assert "  missing: no speed here: add a track (GPX or NMEA) or a speed log of the same ride" in describe(log)


def test_a_sound_cut_in_the_middle_is_read_as_far_as_it_goes(hear: Hear) -> None:
    log = hear(wav_bytes(chord(200.0), RATE_HZ)[: 3 * 2 * RATE_HZ], FOUR)
    assert log.notes[0] == "The sound file is cut; what is there was read."
    assert log.samples["engine_rpm"].median() == pytest.approx(6000, rel=1e-4)


def slow_wav(rate_hz: int, seconds: float) -> bytes:
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setparams((1, 2, rate_hz, 0, "NONE", ""))
        out.writeframes(bytes(2 * int(rate_hz * seconds)))
    return file.getvalue()


def test_too_slow_and_too_short(hear: Hear) -> None:
    with pytest.raises(LogError) as slow:
        hear(slow_wav(2000, 3), FOUR)
    assert str(slow.value) == (
        "engine.wav: the sound has 2000 samples a second; allowed is 4000 to 200000 (most recorders write 44100 or "
        "48000). Export the sound again at its full rate."
    )
    with pytest.raises(LogError) as short:
        hear(slow_wav(8000, 0.5), FOUR)
    assert str(short.value) == "engine.wav: the sound lasts 0.50 s; allowed is 1 s or more. Record the ride again."


@pytest.mark.parametrize(
    "start", [b"\0\0\0\x20ftypisom\0\0", b"\x1a\x45\xdf\xa3\x01\0", b"OggS\0\x02", b"ID3\x04\0", b"\xff\xfb\x90\0"]
)
def test_films_and_compressed_sound(hear: Hear, start: bytes) -> None:
    with pytest.raises(LogError) as caught:
        hear(start + bytes(100), FOUR, "ride.mp4")
    assert str(caught.value) == (
        "ride.mp4: this is a film or a sound in a compressed format; allowed is the sound as WAV or FLAC. Take the "
        "sound track out, for example with: ffmpeg -i FILE -vn -ac 1 -c:a pcm_s16le engine.wav."
    )


@pytest.mark.parametrize(
    "content", [b"RIFF\x10\0\0\0WAVE", b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0" + bytes(30), b"fLaC" + bytes(60)]
)
def test_damaged(hear: Hear, content: bytes) -> None:
    with pytest.raises(LogError) as caught:
        hear(content, FOUR)
    assert "file is damaged or coded in another way" in str(caught.value)
