"""Where a setup was ridden: positions in metres, each with what was done there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.held.plateaus import find_plateaus
from gearfit.importers.common.geodesy import displacement_m
from gearfit.records.recording import Recording, RideSetup
from gearfit.records.span_results import TimedSpan
from gearfit.records.track_results import HELD, IN_GEAR, LEFT_OUT, RUN, Track

_PLACE: Final = ["latitude_deg", "longitude_deg"]


def tracks_of(ride: RideSetup, samples: pd.DataFrame, runs: Sequence[TimedSpan]) -> tuple[Track, ...]:
    """Return the tracks of a setup's recordings that hold positions.

    Parameters
    ----------
    ride : RideSetup
        The recordings.
    samples : pandas.DataFrame
        Every sample with its gear, as in `SetupResult`.
    runs : sequence of TimedSpan
        Those with a start in a recording are marked.
    """
    placed = [(recording, recording.samples.dropna(subset=_PLACE)) for recording in ride.recordings]
    placed = [(recording, table) for recording, table in placed if len(table)]
    if not placed:
        return ()
    origin = placed[0][1].iloc[0]
    return tuple(_track(recording, table, origin, samples, runs) for recording, table in placed)


def _track(
    recording: Recording, table: pd.DataFrame, origin: pd.Series, samples: pd.DataFrame, runs: Sequence[TimedSpan]
) -> Track:
    lat, lon = (table[name].to_numpy() for name in _PLACE)
    lat0, lon0 = (np.full(lat.size, float(origin[name])) for name in _PLACE)
    east_m, north_m = displacement_m(lat0, lon0, lat, lon)
    geared = samples.loc[(samples["file"] == recording.file) & samples["gear"].notna(), "row"]
    in_gear = table["row"].isin(geared).to_numpy()
    state = np.where(in_gear, IN_GEAR, LEFT_OUT)
    time_s = table["time_s"].to_numpy()
    state[in_gear & _held(table)] = HELD
    for run in runs:
        if run.source == recording.file and run.start_s is not None:
            state[(time_s >= run.start_s) & (time_s <= run.start_s + run.time_s.value)] = RUN
    return Track(recording.file, east_m, north_m, state, table["row"].to_numpy(np.int64))


def _held(table: pd.DataFrame) -> NDArray[np.bool_]:
    known = table[["time_s", "speed_mps"]].dropna()
    held = np.zeros(len(table), dtype=np.bool_)
    if len(known):
        found = find_plateaus(known["time_s"].to_numpy(), known["speed_mps"].to_numpy())
        time_s = table["time_s"].to_numpy()
        place = np.searchsorted(found.start_s, time_s, side="right") - 1
        inside = place >= 0
        held[inside] = time_s[inside] <= found.end_s[place[inside]]
    return held
