"""A sound recording of the engine as a log of engine speed."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from gearfit.errors import LogError
from gearfit.importers.common.content import Content
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.sound.audio import Audio, read_audio
from gearfit.importers.sound.contrast import HOP_S, contrast_of
from gearfit.importers.sound.orders import Floats, orders_of
from gearfit.importers.sound.picture import picture_of
from gearfit.importers.sound.refine import Course, refine
from gearfit.importers.sound.ridge import Ridge, ridge, speeds_tried
from gearfit.machine.bike import Engine
from gearfit.records.recording import Column, Recording
from gearfit.records.schema import run_table, sample_table

Bools = NDArray[np.bool_]

#: Multiples of the working cycle that are listened to.
_MULTIPLES: Final = 32
#: Engine speeds looked for: from below idling to a little over the limiter, or to this where bike.toml states none.
_LOWEST_RPM, _HIGHEST_RPM, _OVER_LIMIT = 600.0, 15_000.0, 1.05
#: A moment is silent below this level (full scale 1), and clipped with this share of samples at full scale.
_SILENT, _CLIPPED_SHARE = 1e-3, 0.02
#: Margin below which another course explains the sound as well (rates of wrong moments: docs/sound.md).
_LEAST_MARGIN: Final = 4.0
#: Clear moments count from this many in a row on: single ones come about by chance in noise.
_FEWEST_TOGETHER: Final = 3
#: Largest standard error kept, relative.
_LARGEST_SD: Final = 0.02


def read_engine_speed(content: Content, options: ReadOptions) -> Recording:
    """Read the engine speed out of a sound recording.

    One row every 0.05 s, the silent, clipped and unclear stretches left out. The standard errors do not cover a wrong
    number of cylinders, which scales every speed.

    Raises
    ------
    LogError
        The file is damaged, bike.toml does not state the cylinders, or no engine can be heard.
    """
    engine = options.engine
    if engine.cylinders is None:
        raise LogError(
            content.name,
            "this is a sound recording, and how often the engine fires in a turn is not known",
            "State cylinders (and strokes, and firing of an unevenly firing engine) under [engine] in bike.toml",
        )
    audio, notes = read_audio(content)
    course, found, kept, left_out = _heard(audio, engine)
    notes += [_engine_note(engine), *left_out]
    if not kept.any():
        raise LogError(
            content.name,
            f"no engine speed can be made out in {audio.samples.size / audio.rate_hz:.0f} s of sound"
            f" ({'; '.join(note.rstrip('.') for note in left_out)})",
            "Record with the microphone near the exhaust or under the seat, out of the wind",
        )
    rows = np.flatnonzero(kept)
    firings_per_turn = len(engine.firing or range(engine.cylinders)) * 360.0 / engine.cycle_degrees
    return Recording(
        file=content.name,
        kind="log",
        samples=sample_table(
            content.name,
            rows.size,
            row=rows + 1,
            time_s=np.round(found.time_s[rows] - found.time_s[rows[0]], 6),
            engine_rpm=course[rows],
            rpm_sd_rpm=found.rpm_sd_rpm[rows],
        ),
        runs=run_table(content.name, 0),
        clock="elapsed",
        start_s=float(found.time_s[rows[0]]),
        speed_source="none",
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=(Column("sound", "engine_rpm", "rpm"),),
        notes=tuple(notes),
        sound=picture_of(audio, content.name, found.time_s, np.where(kept, found.engine_rpm, np.nan), firings_per_turn),
    )


def _heard(audio: Audio, engine: Engine) -> tuple[Floats, Course, Bools, list[str]]:
    """Engine speed, its course with errors, which moments are kept, and what is said of the others."""
    orders = orders_of(engine, _MULTIPLES)
    highest_rpm = _HIGHEST_RPM if engine.limit_rpm is None else _OVER_LIMIT * engine.limit_rpm
    contrast = contrast_of(audio, orders, speeds_tried(_LOWEST_RPM, highest_rpm))
    best = ridge(contrast)
    found = refine(audio, orders, contrast.time_s, best.rpm)
    silent, clipped = _levels(audio, contrast.time_s.size)
    unclear = _unclear(best, found)
    reasons = (
        (silent, "silent"),
        (clipped & ~silent, "clipped (too loud for the recorder)"),
        (unclear & ~silent & ~clipped, "without a clear engine note (wind, traffic, clutch and shifts)"),
    )
    notes = [
        f"{HOP_S * part.sum():.1f} s of {HOP_S * part.size:.1f} s left out: {why}."
        for part, why in reasons
        if part.any()
    ]
    return np.nan_to_num(found.engine_rpm), found, ~(silent | clipped | unclear), notes


def _levels(audio: Audio, n: int) -> tuple[Bools, Bools]:
    """Whether each moment is silent, and whether it is clipped."""
    hop = round(HOP_S * audio.rate_hz)
    size = n * hop

    def mean(values: NDArray[np.float32]) -> NDArray[np.float32]:
        padded = np.pad(values, (hop // 2, size), mode="edge")[:size]
        average: NDArray[np.float32] = padded.reshape(n, hop).mean(axis=1)
        return average

    return mean(audio.samples**2) < _SILENT**2, mean(audio.clipped) > _CLIPPED_SHARE


def _unclear(best: Ridge, found: Course) -> Bools:
    away = np.abs(found.engine_rpm / best.rpm - 1) > 0.03
    vague = ~(found.rpm_sd_rpm < _LARGEST_SD * found.engine_rpm)
    clear = ~((best.margin < _LEAST_MARGIN) | vague | away)
    lasting: Bools = ndimage.binary_opening(clear, np.ones(_FEWEST_TOGETHER, dtype=np.bool_))
    return ~lasting


def _engine_note(engine: Engine) -> str:
    firing = "even firing" if engine.firing is None else f"firing {', '.join(f'{a:g}' for a in engine.firing)} degrees"
    cylinders = f"{engine.cylinders} cylinder" + ("" if engine.cylinders == 1 else "s")
    strokes = "4 strokes (not stated)" if engine.strokes is None else f"{engine.strokes} strokes"
    return f"Engine speed from the sound of an engine with {cylinders}, {strokes}, {firing}."
