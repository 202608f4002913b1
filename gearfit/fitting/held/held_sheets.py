"""Gives the rows of held-rpm sheets the speeds that the setup's track held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.gathering.streams import HELD_RPM_SHEET
from gearfit.fitting.held.held_match import Match, match_rows
from gearfit.fitting.held.held_rpm import pair_up
from gearfit.fitting.held.plateaus import Plateaus, find_plateaus
from gearfit.fitting.pairing.held_clock import DAY_S, Settings, Watch, settings
from gearfit.fitting.pairing.material import Material, Sheet, Track
from gearfit.fitting.which_gear.ladder import Ladder

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Least relative error of a held engine speed: over 5 to 20 s a needle drifts by up to 1 %, and its mean is not what
#: was noted.
_LEAST_RPM_SD: Final = 0.007
_NO_WATCH: Final = Watch("none", 0.0)
_NO_GEARBOX: Final = (
    "the gearbox ratios are not stated, and without them {reason}, so the rows could not be used: state them in "
    "bike.toml ([gearbox] gears), or hold at least two engine speeds in each gear, note every hold in the order ridden "
    "and the time beside it"
)


@dataclass(frozen=True, eq=False)
class _Held:
    """Rows of held-rpm sheets in the order ridden; arrays of one length."""

    rows: IntArray
    gear: IntArray
    rpm: FloatArray
    rpm_sd: FloatArray
    time_s: FloatArray
    watch: Watch


def with_held_speeds(material: Material, ladder: Ladder | None) -> Material:
    """Match the rows of held-rpm sheets with the held speeds of the tracks and add them to the setup's readings.

    Rows that find no held speed stay left out; the remarks tell how many were matched, or why none.
    """
    rows = np.flatnonzero(material.reasons == HELD_RPM_SHEET)
    if rows.size == 0:
        return material
    files = ", ".join(dict.fromkeys(material.table["file"].iloc[rows]))
    if not material.tracks:
        return _remarked(material, f"{files}: the rows have no speed, and no track of this setup holds any")
    held, unknown = _held(material, rows, ladder)
    plateaus, watch = _on_one_clock(material.tracks)
    ways = settings(held.time_s, held.watch, plateaus.start_s, plateaus.end_s, watch)
    known = pair_up(held.gear, held.rpm, held.rpm_sd, plateaus, ways.off_time)
    found = match_rows(known, ladder)
    if found.reason and ladder is None:
        return _remarked(material, f"{files}: {_NO_GEARBOX.format(reason=found.reason)}")
    if found.reason:
        return _remarked(material, f"{files}: {found.reason}, so the rows could not be used{unknown}")
    at = found.plateau >= 0
    place = found.plateau[at]
    added = Sheet(
        rows=held.rows[at],
        speed_mps=plateaus.speed_mps[place],
        speed_sd_mps=plateaus.speed_sd_mps[place],
        engine_rpm=held.rpm[at],
        rpm_sd_rpm=held.rpm_sd[at],
        stated_gear=held.gear[at].astype(np.float64),
    )
    reasons = material.reasons.copy()
    reasons[added.rows] = ""
    remark = f"{files}: {_said(found, rows.size, held, watch, ways)}{unknown}"
    return replace(material, sheet=_both(material.sheet, added), reasons=reasons, remarks=(*material.remarks, remark))


def _held(material: Material, rows: IntArray, ladder: Ladder | None) -> tuple[_Held, str]:
    """Rows whose gear is known, in the order ridden, and what to say of the others."""
    part = material.table.iloc[rows]
    gear, rpm = part["stated_gear"].to_numpy(), part["engine_rpm"].to_numpy()
    usable = (gear >= 1) & (rpm > 0)
    if ladder is not None:
        usable &= gear <= ladder.log_ratio.size
    said = ""
    if not usable.all():
        first = part.iloc[int(np.flatnonzero(~usable)[0])]
        within = "" if ladder is None else f" from 1 to {ladder.log_ratio.size}"
        said = f"; {int((~usable).sum())} without a gear{within} (the first is row {first['row']} of {first['file']})"
    clocks = {material.clocks[file] for file in part["file"].unique()}
    time_s, watch = np.full(rows.size, np.nan), _NO_WATCH
    if len(clocks) == 1 or {each.clock for each in clocks} in ({"utc"}, {"time of day"}):
        watch = min(clocks, key=lambda each: each.start_s)
        began_s = part["file"].map({file: material.clocks[file].start_s for file in part["file"].unique()})
        time_s = part["time_s"].to_numpy() + began_s.to_numpy() - watch.start_s
    rpm_sd = np.fmax(np.nan_to_num(part["rpm_sd_rpm"].to_numpy()), _LEAST_RPM_SD * rpm)
    order = np.flatnonzero(usable)
    if np.isfinite(time_s).all():
        order = order[np.argsort(time_s[order], kind="stable")]
    whole = _Held(rows, np.nan_to_num(gear).astype(np.int64), rpm, rpm_sd, time_s, watch)
    return replace(whole, **{f.name: getattr(whole, f.name)[order] for f in fields(whole) if f.name != "watch"}), said


def _on_one_clock(tracks: Sequence[Track]) -> tuple[Plateaus, Watch | None]:
    """Held speeds of all tracks in order, and their common clock; None where they have none."""
    parts = [find_plateaus(track.time_s, track.speed_mps) for track in tracks]
    clocks = {track.watch.clock for track in tracks}
    watch: Watch | None = tracks[0].watch
    if len(tracks) > 1:
        watch = (
            min((t.watch for t in tracks), key=lambda w: w.start_s) if clocks in ({"utc"}, {"time of day"}) else None
        )
    if watch is not None:
        began_s = [track.watch.start_s - watch.start_s for track in tracks]
        parts = [replace(p, start_s=p.start_s + b, end_s=p.end_s + b) for p, b in zip(parts, began_s, strict=True)]
    joined = Plateaus(**{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Plateaus)})
    if watch is None:
        return joined, None
    order = np.argsort(joined.start_s, kind="stable")
    return Plateaus(**{f.name: getattr(joined, f.name)[order] for f in fields(Plateaus)}), watch


def _said(found: Match, rows: int, held: _Held, theirs: Watch | None, ways: Settings) -> str:
    how, add_s = "", float(ways.add_s[found.clock])
    if theirs is not None and np.isfinite(add_s):
        known = "elapsed" not in (held.watch.clock, theirs.clock)
        how = f"by their times{f' ({_ahead(held.watch, theirs, add_s)})' if known else ''} and "
    elif np.isfinite(held.time_s).any():
        how = "their times, which do not fit the track, left aside, "
    unsure = int(found.unsure.sum())
    left = f"; {unsure} more fit several held speeds and {'was' if unsure == 1 else 'were'} left out" if unsure else ""
    count = int(np.sum(found.plateau >= 0))
    return f"{count} of {rows} held engine speeds were matched, {how}in order, with held speeds of the track{left}"


def _ahead(ours: Watch, theirs: Watch, add_s: float) -> str:
    ahead_s = ours.start_s - theirs.start_s - add_s
    if "time of day" in (ours.clock, theirs.clock):
        ahead_s = (ahead_s + DAY_S / 2) % DAY_S - DAY_S / 2
    minutes = round(abs(ahead_s) / 60)
    if minutes == 0:
        return "the clocks agree"
    hours, minutes = divmod(minutes, 60)
    long = " ".join(text for text in (f"{hours} h" if hours else "", f"{minutes} min" if minutes else "") if text)
    return f"the clock of the sheet {long} {'ahead of' if ahead_s > 0 else 'behind'} the track's"


def _remarked(material: Material, remark: str) -> Material:
    return replace(material, remarks=(*material.remarks, remark))


def _both(one: Sheet, other: Sheet) -> Sheet:
    order = np.argsort(np.concatenate([one.rows, other.rows]), kind="stable")
    joined = {f.name: np.concatenate([getattr(one, f.name), getattr(other, f.name)])[order] for f in fields(Sheet)}
    return Sheet(**joined)
