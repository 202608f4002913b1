"""Corrects engine speeds that are wrong by the same amount throughout: cut down to a step, or offset.

All setups are taken together, because the same logger is wrong in the same way in all of them and a change must not
come from deciding differently for each. Cut speeds are judged likewise (`cut_speeds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.fitting.pairing.material import Material
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.cut_speeds import cut_or_rounded
from gearfit.fitting.ratios.engine_offset import LARGEST_RPM, EngineOffset
from gearfit.fitting.ratios.timed_fit import TimedFit

#: Engine speeds written in steps at least this coarse, rev/min, are checked for being cut down instead of rounded.
COARSE_STEP_RPM: Final = 20.0
#: What a tyre that grows and uneven slip may look like, rev/min (sd; our assumption).
_LOOKALIKE_RPM: Final = 8.0
#: Standard errors that an offset of fine engine speeds must show.
_SURE_SD: Final = 3.0
#: Corrections and spreads from this size, rev/min, are worth a second fit.
_WORTH_RPM: Final = 1.0
#: Probability of "cut down" from which the report says so.
_TOLD: Final = 0.5


def raised(materials: Sequence[Material], timed: Sequence[TimedFit | None]) -> list[Material] | None:
    """Correct the engine speeds of all setups by what their rides show together; None where nothing is to correct.

    Streams whose engine speeds are written in the same step are taken for those of one logger.
    """
    found: dict[float, list[EngineOffset]] = {}
    for fit in timed:
        for each in fit.streams if fit is not None and fit.levels is not None and not fit.by_starts else ():
            if each.engine is not None:
                found.setdefault(each.stream.rpm_step_rpm, []).append(each.engine)
    missing = {step: _missing(step, *_pooled(offsets)) for step, offsets in found.items()}
    if not any(_counts(found) for found in missing.values()):
        return None
    return [_raised(material, missing) for material in materials]


def _pooled(offsets: Sequence[EngineOffset]) -> tuple[float, float]:
    """Weighted mean and its standard error, widened where the rides disagree."""
    value, se = (np.array([getattr(o, name) for o in offsets]) for name in ("missing_rpm", "se_rpm"))
    weight = se**-2
    mean = float(weight @ value / weight.sum())
    scatter = float(weight @ (value - mean) ** 2) / max(value.size - 1, 1)
    return mean, float(np.hypot(np.sqrt(max(scatter, 1.0) / weight.sum()), _LOOKALIKE_RPM))


def _missing(step_rpm: float, measured_rpm: float, se_rpm: float) -> EngineOffset:
    """Decide what is missing: none or half a step of coarse engine speeds, none or what was measured of fine ones."""
    if step_rpm >= COARSE_STEP_RPM:
        return EngineOffset(*cut_or_rounded(measured_rpm, se_rpm, step_rpm / 2))
    sure = _SURE_SD * se_rpm < abs(measured_rpm) < LARGEST_RPM
    return EngineOffset(measured_rpm, se_rpm) if sure else EngineOffset(0.0, 0.0)


def _counts(found: EngineOffset) -> bool:
    return max(abs(found.missing_rpm), found.se_rpm) >= _WORTH_RPM


def _raised(material: Material, missing: dict[float, EngineOffset]) -> Material:
    remarks, streams = list(material.remarks), []
    for stream in material.streams:
        found = missing.get(stream.rpm_step_rpm)
        if found is None or not _counts(found):
            streams.append(stream)
            continue
        rpm = np.where(stream.engine_rpm > 0, stream.engine_rpm + found.missing_rpm, 0.0)
        streams.append(replace(stream, engine_rpm=rpm, engine_offset_sd_rpm=found.se_rpm))
        remarks.append(_text(stream, found.missing_rpm))
    return replace(material, streams=tuple(streams), remarks=tuple(remarks))


def _text(stream: Stream, rpm: float) -> str:
    file = stream.engine_file or stream.file
    if stream.rpm_step_rpm >= COARSE_STEP_RPM:
        share = 2 * rpm / stream.rpm_step_rpm
        if share < _TOLD:
            return (
                f"the engine speeds of {file} may be cut down to steps of {stream.rpm_step_rpm:.0f} rev/min or rounded "
                "to them; what that leaves open is in the intervals"
            )
        return (
            f"the engine speeds of {file} look cut down to steps of {stream.rpm_step_rpm:.0f} rev/min rather than "
            f"rounded; {rpm:.0f} rev/min were added to them"
        )
    way, done = ("low", "raised") if rpm > 0 else ("high", "lowered")
    return (
        f"the engine speed of {file} reads about {abs(rpm):.0f} rev/min {way} throughout; it was {done} by that. "
        "The change is hardly touched by it, the circumference is"
    )
