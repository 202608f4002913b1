"""What the importers hand over: one record for each file, one for the whole ride folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.brief import Brief
from gearfit.machine.bike import Bike, Setup

#: Why a row of a sheet is no reading, as `samples_<setup>.csv` and the table of the page have it.
NEUTRAL: Final = "in neutral, as noted"
UNREAD_GEAR: Final = "gear noted in a way that cannot be read"
NO_READING: Final = "zero, or no number, where a reading belongs"
#: How a note of a ride folder says that a sheet is still empty.
NO_ROWS_YET = "no rows yet"

Kind = Literal["track", "log", "samples", "held rpm", "timed runs", "odometer"]
Clock = Literal["utc", "time of day", "elapsed", "none"]
SpeedSource = Literal["receiver", "position", "wheel or logger", "machine", "speedometer", "hand", "none"]
#: Kinds of speed that an instrument of the machine says: geared to gearbox or wheel, and off by some per cent.
INSTRUMENTS: Final = ("speedometer", "machine")


#: Channels of a file that hold speeds as they were written.
SPEED_CHANNELS: Final = ("speed_mps", "indicated_mps", "from_mps", "to_mps")


@dataclass(frozen=True)
class Column:
    """One column as the importer understood it: header text, channel (a column of the sample table), unit."""

    header: str
    channel: str
    unit: str


@dataclass(frozen=True)
class OdometerReading:
    """One ride by the odometer: row of the sheet, readings at its ends and their step, true distance if noted (m)."""

    row: int
    start_m: float
    end_m: float
    step_m: float
    true_m: float | None


@dataclass(frozen=True, eq=False)
class SoundPicture:
    """A small spectrogram of a sound recording, with the engine speed that was made out.

    Attributes
    ----------
    file : str
        The recording.
    time_s : (n,) float
        Moments of the columns, from the start of the recording.
    frequency_hz : (m,) float
        Frequencies of the rows, evenly spaced.
    level_db : (m, n) float32
        Level against the loudest place, dB.
    ridge_time_s, ridge_rpm : (k,) float
        Engine speed over time; NaN where the moment was left out.
    firings_per_turn : float
        Firings in one turn of the crankshaft.
    """

    file: str
    time_s: NDArray[np.float64]
    frequency_hz: NDArray[np.float64]
    level_db: NDArray[np.float32]
    ridge_time_s: NDArray[np.float64]
    ridge_rpm: NDArray[np.float64]
    firings_per_turn: float


@dataclass(frozen=True, eq=False, repr=False)
class Recording(Brief):
    """One file, read.

    Attributes
    ----------
    file : str
        Name relative to the ride folder, with forward slashes.
    kind : str
        "track" (GPX), "log" (text with time), "samples" (sheet of rpm and speed, no time), "held rpm" (sheet of gear
        and rpm without speed), "timed runs" or "odometer".
    samples, runs : pandas.DataFrame
        As `gearfit.records.schema`; the one that does not apply has no rows.
    clock : str
        "utc" (absolute), "time of day" (clock time without date or zone), "elapsed" (seconds from a start of the
        logger's own) or "none" (sheets).
    start_s : float or None
        Clock reading of `time_s` = 0: Unix seconds for "utc", seconds after midnight for "time of day", the first
        time value for "elapsed"; None for "none".
    speed_source : str
        "receiver" (satellite receiver's own speed), "position" (derived from positions), "machine" (vehicle, wheel,
        OBD or ECU speed), "wheel or logger" (a speed column that does not say what measured it), "hand" (sheet, not
        from the machine), "speedometer" (only indicated speeds, which then stand in `speed_mps` as well) or "none".
    speed_step_mps, rpm_step_rpm : float or None
        Smallest step in which the values were written, in sheets the one to which a person read; None where no values.
    columns : tuple of Column
        What was found in the header.
    notes : tuple of str
        What was dropped, repaired or noticed, each a sentence with its count.
    odometer : tuple of OdometerReading
        Rides by the odometer; empty but for kind "odometer".
    sound : SoundPicture or None
        How a sound recording looks; None for other files.
    left_out : mapping of int to str
        By its number in `samples`, why a row of a sheet is no reading that the fit may use, one of `NEUTRAL`,
        `UNREAD_GEAR` and `NO_READING`.
    warnings : tuple of str
        What the writer of a sheet has to mend, each a sentence with line, what was found and what to write.
    start_day : int or None
        Day of `time_s` = 0 where a "time of day" has dates without a zone, counted from 1970-01-01; None unknown.
    """

    file: str
    kind: Kind
    samples: pd.DataFrame
    runs: pd.DataFrame
    clock: Clock
    start_s: float | None
    speed_source: SpeedSource
    speed_step_mps: float | None
    rpm_step_rpm: float | None
    columns: tuple[Column, ...]
    notes: tuple[str, ...]
    odometer: tuple[OdometerReading, ...] = ()
    sound: SoundPicture | None = None
    left_out: Mapping[int, str] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    start_day: int | None = None


@dataclass(frozen=True)
class Copy:
    """A file whose readings another file holds as well.

    Attributes
    ----------
    file, original : str
        The two files.
    part : bool
        One of them holds more than the other.
    counts_once : bool
        Both lie in one setup and `file` is left out; otherwise they lie in two, and both are used.
    """

    file: str
    original: str
    part: bool
    counts_once: bool


@dataclass(frozen=True, eq=False, repr=False)
class RideSetup(Brief):
    """One setup with its recordings, in order of file name."""

    setup: Setup
    recordings: tuple[Recording, ...]


@dataclass(frozen=True, eq=False, repr=False)
class RideFolder(Brief):
    """A ride folder, read.

    Attributes
    ----------
    path : pathlib.Path
        The folder.
    bike : Bike
        From bike.toml; an empty `Bike` where there is none.
    has_bike_file : bool
        Whether bike.toml was there.
    setups : tuple of RideSetup
        Reference first; at least one.
    notes : tuple of str
        Files left aside, each with the reason.
    copies : tuple of Copy
        Files that hold the same readings.
    """

    path: Path
    bike: Bike
    has_bike_file: bool
    setups: tuple[RideSetup, ...]
    notes: tuple[str, ...]
    copies: tuple[Copy, ...] = ()

    @property
    def written_unit(self) -> str:
        """The unit of speed in which sheets and logs are written: "mph" where they all are, else "kmh"."""
        columns = [column for ride in self.setups for recording in ride.recordings for column in recording.columns]
        units = {column.unit for column in columns if column.channel in SPEED_CHANNELS and column.unit}
        return "mph" if units == {"mph"} else "kmh"
