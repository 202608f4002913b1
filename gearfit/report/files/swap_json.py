"""The swap on paper, or the riding that allowed none, as results.json holds it."""

from __future__ import annotations

from gearfit.records.results import HardestRiding, SwapOnPaper


def swap_json(swap: SwapOnPaper | None) -> dict[str, object] | None:
    """Return the record without the points of the pictures."""
    if swap is None:
        return None
    return {
        "thrust_percent": swap.thrust_percent,
        "speed_percent": swap.speed_percent,
        "mass_kg": swap.mass_kg,
        "mass_stated": swap.mass_stated,
        "torque_curve": {
            "engine_rpm": list(swap.curve.engine_rpm),
            "torque_nm": list(swap.curve.torque_nm),
            "lo95_nm": list(swap.curve.lo95_nm),
            "hi95_nm": list(swap.curve.hi95_nm),
        },
        "drag_from": swap.drag_from,
        "starts": swap.starts,
        "shifts": swap.shifts,
        "stretches": swap.stretches,
        "shift_rpm": swap.shift_rpm,
        "shift_s": swap.shift_s,
        "held_back": swap.held_back,
        "held_back_chance": swap.held_back_chance,
        "lift_capped": swap.lift_capped,
        "grip_capped": swap.grip_capped,
        "top_mps": {"reference": swap.reference.top_mps, "other": swap.other.top_mps},
        "spans": [
            {
                "from_mps": span.from_mps,
                "to_mps": span.to_mps,
                "how": span.how,
                "gears": list(span.gears),
                "reference_s": span.reference_s,
                "other_s": span.other_s,
                "difference_s": span.difference_s,
                "shifts_reference": span.shifts_reference,
                "shifts_other": span.shifts_other,
            }
            for span in swap.spans
        ],
    }


def hardest_json(hardest: HardestRiding | None) -> dict[str, object] | None:
    """Return the riding that is not seen to be full throttle."""
    if hardest is None:
        return None
    return {
        "stretches": hardest.stretches,
        "gears": hardest.gears,
        "reached_rpm": hardest.reached_rpm or None,
        "limit_rpm": hardest.limit_rpm,
        "reaches": hardest.reaches,
    }
