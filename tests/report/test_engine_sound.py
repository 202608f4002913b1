"""The spectrogram of a sound recording: what is drawn is what was heard."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from gearfit.importers import ReadOptions, read_log
from gearfit.machine.bike import Engine
from gearfit.records.recording import SoundPicture
from gearfit.report.figures import engine_sound
from gearfit.report.figures.drawn import KINDS, drawn
from tests.report import example
from tests.simulator.sound import wav_bytes

RATE_HZ = 8000


@pytest.fixture
def picture(tmp_path: Path) -> SoundPicture:
    """Five seconds of a four-cylinder engine at 3000 rev/min: 100 Hz and its multiples, and a second of silence."""
    time_s = np.arange(0, 5, 1 / RATE_HZ)
    tones = np.asarray(sum(np.cos(2 * np.pi * 100 * k * time_s) / k for k in range(1, 9)))
    sound = np.concatenate((0.2 * tones, np.zeros(RATE_HZ)))
    (tmp_path / "engine").write_bytes(wav_bytes(sound, RATE_HZ))
    found = read_log(tmp_path / "engine", options=ReadOptions(engine=Engine(4, 4))).sound
    assert found is not None
    return found


def test_the_picture_shows_the_firing_frequency_and_where_it_was_heard(picture: SoundPicture) -> None:
    assert picture.level_db.shape == (picture.frequency_hz.size, picture.time_s.size)
    loudest = picture.frequency_hz[picture.level_db[:, picture.time_s < 4.5].mean(axis=1).argmax()]
    assert loudest == pytest.approx(100, abs=4)
    assert picture.firings_per_turn == 2
    heard = np.isfinite(picture.ridge_rpm)
    assert picture.ridge_rpm[heard] / 60 * 2 == pytest.approx(100, rel=0.02)
    assert not heard[picture.ridge_time_s > 5.2].any()
    assert heard[picture.ridge_time_s < 4.7].mean() > 0.9


def test_the_figure_draws_that_line(picture: SoundPicture) -> None:
    analysis = example.two_setups()
    first = dataclasses.replace(analysis.setups[0], sounds=(picture,))
    analysis = dataclasses.replace(analysis, setups=(first, *analysis.setups[1:]))
    figure = engine_sound.draw(analysis)
    assert figure is not None
    (ax,) = figure.axes
    for line in ax.get_lines():
        np.testing.assert_array_equal(np.asarray(line.get_ydata(), dtype=float), picture.ridge_rpm / 60 * 2)
        np.testing.assert_array_equal(np.asarray(line.get_xdata(), dtype=float), picture.ridge_time_s)
    (image,) = ax.get_images()
    np.testing.assert_array_equal(np.asarray(image.get_array()), picture.level_db)
    assert "engine: engine speed made out in" in engine_sound.alt(analysis)
    (kind,) = (kind for kind in KINDS if kind.draw is engine_sound.draw)
    assert drawn(kind, analysis) is not None


def test_no_figure_without_sound() -> None:
    assert engine_sound.draw(example.two_setups()) is None
