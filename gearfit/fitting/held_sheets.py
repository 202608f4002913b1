"""Gives the rows of held-rpm sheets the speeds that the setup's track held."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.held_rpm import match_rows
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.plateaus import Plateaus, find_plateaus
from gearfit.fitting.streams import HELD_RPM_SHEET, Material, Sheet

FloatArray = NDArray[np.float64]

#: Least relative error of a held engine speed.
_LEAST_RPM_SD: Final = 0.005


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
    if ladder is None:
        return _remarked(
            material, f"{files}: without tooth counts in bike.toml the rows cannot be matched with the track"
        )
    part = material.table.iloc[rows]
    gear, rpm = part["stated_gear"].to_numpy(), part["engine_rpm"].to_numpy()
    known = (gear >= 1) & (gear <= ladder.log_ratio.size)
    rows, gear, rpm = rows[known], gear[known].astype(np.int64), rpm[known]
    rpm_sd = np.fmax(np.nan_to_num(part["rpm_sd_rpm"].to_numpy()[known]), _LEAST_RPM_SD * rpm)
    plateaus = _joined([find_plateaus(*track) for track in material.tracks])
    found = match_rows(
        np.log(rpm) - ladder.log_ratio[gear - 1], rpm_sd / rpm, plateaus, ladder.log_circumference, ladder.shift_sd
    )
    if found.reason:
        return _remarked(material, f"{files}: {found.reason}, so the rows could not be used")
    at = found.plateau >= 0
    place = found.plateau[at]
    added = Sheet(
        rows=rows[at],
        speed_mps=plateaus.speed_mps[place],
        speed_sd_mps=plateaus.speed_sd_mps[place],
        engine_rpm=rpm[at],
        rpm_sd_rpm=rpm_sd[at],
        stated_gear=gear[at].astype(np.float64),
    )
    reasons = material.reasons.copy()
    reasons[added.rows] = ""
    remark = (
        f"{files}: {int(at.sum())} of {at.size} held engine speeds were matched, in order, "
        "with held speeds of the track"
    )
    return replace(material, sheet=_both(material.sheet, added), reasons=reasons, remarks=(*material.remarks, remark))


def _remarked(material: Material, remark: str) -> Material:
    return replace(material, remarks=(*material.remarks, remark))


def _joined(parts: list[Plateaus]) -> Plateaus:
    return Plateaus(
        *(
            np.concatenate([getattr(p, name) for p in parts])
            for name in ("start_s", "end_s", "speed_mps", "speed_sd_mps")
        )
    )


def _both(one: Sheet, other: Sheet) -> Sheet:
    order = np.argsort(np.concatenate([one.rows, other.rows]), kind="stable")
    return Sheet(
        *(
            np.concatenate([getattr(one, name), getattr(other, name)])[order]
            for name in ("rows", "speed_mps", "speed_sd_mps", "engine_rpm", "rpm_sd_rpm", "stated_gear")
        )
    )
