"""A file of NMEA sentences as a recording."""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.errors import LogError
from gearfit.importers.common.content import Content
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.stray_times import stray_note, strays
from gearfit.importers.common.track_speed import derive_speed, derived_note
from gearfit.importers.common.written_step import written_step
from gearfit.importers.nmea.epochs import Epochs, Floats, read_epochs
from gearfit.importers.nmea.sentences import Bools, Sentences, find_sentences
from gearfit.records.recording import Column, Recording, SpeedSource
from gearfit.records.schema import HEIGHTS_M, SPEED_CEILING_MPS, run_table, sample_table
from gearfit.units import SPEED_UNITS_MPS

USED: Final = ("RMC", "GGA", "VTG", "ZDA")
#: From this number on, a kind of sentence that is mostly faulty makes the file one to refuse.
_FEWEST_OF_A_KIND: Final = 10
_MPS_PER_KNOT: Final = SPEED_UNITS_MPS["knot"]


def read_nmea(content: Content, options: ReadOptions) -> Recording:
    """Read the sentences of a receiver.

    One row is one moment: speed from RMC, else VTG (knots), else from the positions; position from RMC, else GGA;
    height from GGA; date from RMC or ZDA. Moments without a fix are left out. Sentences whose checksum is wrong or
    missing are left out unless the options accept them; all that is left out is counted in the notes.

    Raises
    ------
    LogError
        No RMC, GGA or VTG, a wrong or missing checksum in most of them or in most of one kind, or no fix with a time.
    """
    sentences = find_sentences(content.data)
    kinds = {name: sentences.called(name) for name in USED}
    usable, notes = _usable(content.name, sentences, kinds, options.accept_bad_checksums)
    epochs = read_epochs(sentences, usable)
    speed_mps = epochs.speed_knots * _MPS_PER_KNOT
    keep, left_out = _with_fix(content.name, epochs, speed_mps)
    rows = np.flatnonzero(keep)
    stray = strays(epochs.time_s[rows])
    if stray.any():
        left_out.append(stray_note(int(stray.sum()), "moment", f"line {epochs.line[rows[stray][0]]}"))
        rows = rows[~stray]
    order, sorted_notes = _in_order(epochs.time_s[rows])
    rows = rows[order]
    time_s = epochs.time_s[rows]
    speed_mps, step_knots = speed_mps[rows], written_step(_present(epochs.speed_knots[rows]))
    step_mps = None if step_knots is None else step_knots * _MPS_PER_KNOT
    speed_sd_mps = np.full(rows.size, np.nan if step_mps is None else step_mps / np.sqrt(12.0))
    source: SpeedSource = "receiver"
    latitude_deg, longitude_deg = epochs.latitude_deg[rows], epochs.longitude_deg[rows]
    elevation_m = epochs.elevation_m[rows]
    no_height = (elevation_m < HEIGHTS_M[0]) | (elevation_m > HEIGHTS_M[1])
    if no_height.any():
        heights = _count(int(no_height.sum()), "height")
        sorted_notes.append(f"{heights} outside {HEIGHTS_M[0]:g} to {HEIGHTS_M[1]:g} m left out.")
    notes += [*left_out, *sorted_notes]
    if not np.isfinite(speed_mps).any():
        derived = derive_speed(time_s, latitude_deg, longitude_deg, np.zeros(rows.size, dtype=np.int64))
        speed_mps = np.where(derived.speed_mps <= SPEED_CEILING_MPS, derived.speed_mps, np.nan)
        speed_sd_mps, source = derived.speed_sd_mps, "position"
        notes.append(derived_note(derived.noise_m))
        if not np.isfinite(speed_mps).any():
            source = "none"
    return Recording(
        file=content.name,
        kind="track",
        samples=sample_table(
            content.name,
            rows.size,
            row=epochs.line[rows],
            time_s=np.round(time_s - time_s[0], 6),
            speed_mps=speed_mps,
            speed_sd_mps=np.where(np.isfinite(speed_mps), speed_sd_mps, np.nan),
            elevation_m=np.where(no_height, np.nan, elevation_m),
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
        ),
        runs=run_table(content.name, 0),
        clock="utc" if epochs.dated else "time of day",
        start_s=float(time_s[0]),
        speed_source=source,
        speed_step_mps=step_mps,
        rpm_step_rpm=None,
        columns=_columns(epochs, source),
        notes=tuple(notes),
    )


def _usable(name: str, sentences: Sentences, kinds: dict[str, Bools], accept_bad: bool) -> tuple[Bools, list[str]]:
    """Which sentences are used, and what is said about the others."""
    wanted = np.logical_or.reduce(list(kinds.values()))
    if not wanted.any():
        raise LogError(
            name,
            f"none of its {len(sentences.start)} sentences is one of {', '.join(USED)}, which hold time, position and "
            "speed",
            "Switch RMC on in the receiver or recorder",
        )
    faulty = wanted & ~sentences.good
    if not faulty.any():
        return wanted, []
    said = f"of {int(wanted.sum())} sentences ({', '.join(USED)}) {_faults(sentences, faulty)}"
    if accept_bad:
        return wanted, [f"As asked, {said} were used as well."]
    _refuse_if_mostly_faulty(name, sentences, {", ".join(USED): wanted} | kinds)
    return wanted & sentences.good, [f"Left out: {said}."]


def _faults(sentences: Sentences, faulty: Bools) -> str:
    wrong, missing = int((faulty & sentences.has_checksum).sum()), int((faulty & ~sentences.has_checksum).sum())
    parts = [f"{wrong} with a wrong checksum"] * bool(wrong) + [f"{missing} without a checksum"] * bool(missing)
    return " and ".join(parts)


def _refuse_if_mostly_faulty(name: str, sentences: Sentences, groups: dict[str, Bools]) -> None:
    """Refuse a file in which most sentences, or most of one kind, are faulty: that is no matter of transmission."""
    for label, members in groups.items():
        faulty = members & ~sentences.good
        enough = label not in USED or members.sum() >= _FEWEST_OF_A_KIND
        if enough and faulty.sum() > members.sum() / 2:
            raise LogError(
                f"{name}, line {sentences.line[faulty][0]}",
                f"of its {int(members.sum())} sentences ({label}) {_faults(sentences, faulty)}; allowed is $...*hh in "
                "most of them, where hh proves that the sentence arrived whole",
                "Record or export the file again; if only the checksums are wrong, use --accept-bad-checksums",
            )


def _with_fix(name: str, epochs: Epochs, speed_mps: Floats) -> tuple[Bools, list[str]]:
    """Return the moments that are kept, and notes about those that are not."""
    located = np.isfinite(epochs.latitude_deg)
    impossible = (speed_mps < 0) | (speed_mps > SPEED_CEILING_MPS)
    holds = np.isfinite(speed_mps) if np.isfinite(speed_mps).any() else located
    keep = holds & ~epochs.void & ~impossible
    notes = []
    for left_out, why in (
        (epochs.void, "in which the receiver had no fix"),
        (~epochs.void & ~holds, "without a speed" if np.isfinite(speed_mps).any() else "without a position"),
        (~epochs.void & impossible, f"with a speed outside 0 to {SPEED_CEILING_MPS:g} m/s"),
    ):
        if left_out.any():
            notes.append(f"{_count(int(left_out.sum()), 'moment')} {why} left out.")
    if epochs.untimed:
        notes.append(f"{_count(epochs.untimed, 'sentence')} without a readable time left out.")
    if not keep.any():
        found = f"{_count(epochs.line.size, 'moment')} ({'; '.join(note.rstrip('.') for note in notes)})"
        raise LogError(
            name,
            f"there is no fix with a time in {found if epochs.line.size else 'any sentence'}; allowed is a recording "
            "made with the receiver in view of the sky",
            "Record the ride again, outside and with RMC sentences on",
        )
    return keep, notes


def _in_order(time_s: Floats) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], list[str]]:
    notes = []
    back = int((time_s < np.maximum.accumulate(time_s)).sum())
    if back:
        notes.append(f"{_count(back, 'moment')} out of order put in order of time.")
    order = np.argsort(time_s, kind="stable")
    repeated = np.concatenate(([False], np.diff(time_s[order]) == 0))
    if repeated.any():
        notes.append(f"{_count(int(repeated.sum()), 'moment')} with the time of an earlier one left out.")
    return order[~repeated], notes


def _present(values: Floats) -> Floats:
    return values[np.isfinite(values)]


def _columns(epochs: Epochs, source: SpeedSource) -> tuple[Column, ...]:
    found = [Column("time", "time_s", "UTC" if epochs.dated else "UTC without date")]
    if source == "receiver":
        found.append(Column("VTG speed" if epochs.only_vtg else "RMC speed", "speed_mps", "knots"))
    if np.isfinite(epochs.latitude_deg).any():
        found += [Column("latitude", "latitude_deg", "degrees"), Column("longitude", "longitude_deg", "degrees")]
    if np.isfinite(epochs.elevation_m).any():
        found.append(Column("GGA altitude", "elevation_m", "m"))
    return tuple(found)


def _count(count: int, word: str) -> str:
    return f"1 {word}" if count == 1 else f"{count} {word}s"
