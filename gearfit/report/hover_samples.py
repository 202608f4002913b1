"""Points of the pictures that show samples: speed against rpm, heaps of ratios, speedometer, sound, track."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from gearfit import words
from gearfit.report import engine_sound, ratio_histogram, track_picture
from gearfit.report.told import MOST, Part, Told, column, every
from gearfit.results import Analysis, SetupResult, SpeedometerPoint
from gearfit.track_results import Track
from gearfit.units import SPEED_UNITS_MPS, from_mps


def samples(analysis: Analysis) -> list[Told]:
    """Return some samples of each setup."""
    found = []
    for panel, result in enumerate(analysis.setups):
        table = result.samples
        whole = table[(table["speed_mps"].notna() & table["engine_rpm"].notna()).to_numpy()]
        some = whole.iloc[every(len(whole), min(MOST, 2 * MOST // len(analysis.setups)))]
        x, y = (
            some["engine_rpm"].to_numpy(float),
            from_mps(1.0, analysis.speed_unit) * some["speed_mps"].to_numpy(float),
        )
        found.append(Told(panel, words.setup_label(result.setup), x, y, _of_samples(some)))
    return found


def _of_samples(table: pd.DataFrame) -> tuple[Part, ...]:
    return (
        Part("{speed}", (column(table["speed_mps"], 2),)),
        Part("{} rpm", (column(table["engine_rpm"]),)),
        Part("{gear}", (column(table["gear"].fillna(0).to_numpy(float)),)),
        Part("{1} s", (column(table["time_s"], 1),)),
    )


def heaps(analysis: Analysis) -> list[Told]:
    """Return the columns of the histogram, each with the gear that most of its samples are in."""
    ends = ratio_histogram.axis_ends(analysis)
    return [_heap(panel, result, analysis.speed_unit, ends) for panel, result in enumerate(analysis.setups)]


def _heap(panel: int, result: SetupResult, unit: str, ends: tuple[float, float]) -> Told:
    edges, counts, _ = ratio_histogram.counted(result, ends)
    middle = np.exp((edges[:-1] + edges[1:]) / 2)
    filled = counts > 0
    place = np.digitize(result.samples["ln_ratio"].to_numpy(float), edges) - 1
    gear = result.samples["gear"].fillna(0).to_numpy(int)
    usual = [int(np.bincount(gear[place == at]).argmax()) for at in np.flatnonzero(filled)]
    parts = (
        Part("{sloth}", (column(middle[filled], 2),)),
        Part("samples: {}", (column(counts[filled]),)),
        Part("{gear}", (column(usual),)),
    )
    name = words.setup_label(result.setup)
    return Told(panel, name, (middle * SPEED_UNITS_MPS[unit])[filled], counts[filled] * 1.0, parts, level=True)


def speedometer(analysis: Analysis) -> list[Told]:
    """Return readings and fitted curve of each speedometer."""
    found = []
    unit = from_mps(1.0, analysis.speed_unit)
    judged = [result for result in analysis.setups if result.speedometer is not None]
    for result in judged:
        if result.speedometer is None:
            continue
        name = words.setup_label(result.setup)
        table = result.speedometer.readings.iloc[every(len(result.speedometer.readings), MOST // len(judged))]
        true, shown = (table[key].to_numpy(float) for key in ("true_mps", "shown_mps"))
        said = Part("shows {speed} at {speed}", (column(shown, 2), column(true, 2)))
        aside = Part("{}", ([str(reason) or None for reason in table["set_aside"]],))
        found.append(Told(0, f"{name}, reading", unit * true, unit * (shown - true), (said, aside)))
        found.append(_fitted(name, unit, result.speedometer.curve))
    return found


def _fitted(name: str, unit: float, curve: tuple[SpeedometerPoint, ...]) -> Told:
    true = np.array([point.true_mps for point in curve])
    error = np.array([point.error_mps.value for point in curve])
    low, high = ([getattr(point.error_mps, end) for point in curve] for end in ("lo95", "hi95"))
    parts = (
        Part("at {speed}", (column(true, 2),)),
        Part("error {speed}", (column(error, 2),)),
        Part("95 %: {speed} to {speed}", (column(low, 2), column(high, 2))),
    )
    return Told(0, f"{name}, fit", unit * true, unit * error, parts)


def sound(analysis: Analysis) -> list[Told]:
    """Return the engine speed that was heard in each recording."""
    found = []
    for panel, picture in enumerate(engine_sound.pictures_of(analysis)):
        chosen = every(len(picture.ridge_time_s), MOST // 4)
        time, rpm = picture.ridge_time_s[chosen], picture.ridge_rpm[chosen]
        said = (Part("{1} s", (column(time, 1),)), Part("{} rpm", (column(rpm),)))
        heard = np.isfinite(rpm)
        height = np.where(heard, rpm / 60 * picture.firings_per_turn, 0.0)
        found.append(Told(panel, picture.file, time, height, said, level=True))
    return found


def tracks(analysis: Analysis) -> list[Told]:
    """Return some positions of each track, with what was done there."""
    placed = [result for result in analysis.setups if result.tracks]
    most = max(MOST // max(sum(len(result.tracks) for result in placed), 1), 1)
    return [
        _track(panel, words.setup_label(result.setup), result.samples, track, most)
        for panel, result in enumerate(placed)
        for track in result.tracks
    ]


def _track(panel: int, name: str, table: pd.DataFrame, track: Track, most: int) -> Told:
    chosen = every(len(track.east_m), most)
    labels = [track_picture.label(int(state)) for state in track.state[chosen]]
    of_file = table[table["file"] == track.file].set_index("row")
    there = of_file.reindex(track.row[chosen])
    east, north = track.east_m[chosen], track.north_m[chosen]
    parts = (
        Part("{}", (list(labels),)),
        Part("{speed}", (column(there["speed_mps"], 2),)),
        Part("gear {}", (column(there["gear"].to_numpy(float, na_value=math.nan)),)),
        Part("{1} s", (column(there["time_s"], 1),)),
        Part("{} m east, {} m north", (column(east), column(north))),
    )
    return Told(panel, name, east, north, parts)
