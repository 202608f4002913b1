"""The same number of km/h, or of rev/min, in every row is said, and no gear is accused of it."""

from __future__ import annotations

import pytest

from tests.findings.conftest import GEARS, PRIMARY, REAR, SETUPS, Analyse, codes, only, without_intervals

BIKE = f"[gearbox]\nprimary = {PRIMARY}\ngears = {list(GEARS)}\n[final_drive]\nrear = {REAR}\n{SETUPS}"
RPM = (3500.0, 4500.0, 5500.0)


def readings(front: int, more_kmh: float = 0.0, first_gear: float = 1.0) -> str:
    """Three engine speeds in each gear, to 1 km/h: v = n C / (60 i), C 2 m."""
    rows = "gear,rpm,speed_kmh\n"
    for k, gear in enumerate(GEARS):
        for rpm in RPM:
            kmh = rpm * 2.0 / 60 / (PRIMARY * gear * REAR / front) * 3.6 * (first_gear if k == 0 else 1.0)
            rows += f"{k + 1},{rpm:g},{round(kmh + more_kmh)}\n"
    return rows


@pytest.mark.parametrize("bike", [BIKE, SETUPS], ids=["teeth stated", "final drive alone"])
@pytest.mark.parametrize("more_kmh", [5, -4])
def test_the_same_number_in_every_row_of_one_setup_is_said(analyse: Analyse, bike: str, more_kmh: int) -> None:
    found = analyse({"bike.toml": bike, "before/a.csv": readings(16), "after/b.csv": readings(15, more_kmh)})
    said = only(found, "same-number")
    text = without_intervals(said.text)
    assert text.startswith("after: the same number in every row: ")
    size, rest = text.split(": ", 2)[2].split(" km/h ", 1)
    assert float(size) == pytest.approx(abs(more_kmh), abs=0.6)
    assert rest.startswith("more than" if more_kmh > 0 else "less than")
    assert not {"gear-out-of-line", "gear-suspected", "gear-off-its-teeth", "odd-row"} & set(codes(found))
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(-6.25)


def test_teeth_tell_the_same_number_in_both_setups(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE, "before/a.csv": readings(16, 5), "after/b.csv": readings(15, 5)})
    assert only(found, "same-number").text.startswith("before and after: the same number in every row: ")
    assert not {"gear-out-of-line", "gear-off-its-teeth"} & set(codes(found))


def test_a_first_gear_that_alone_is_off_is_no_offset(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE, "before/a.csv": readings(16), "after/b.csv": readings(15, 0, 1.12)})
    assert "same-number" not in codes(found)
    assert only(found, "gear-out-of-line").text.startswith("First gear")


def test_good_readings_have_none(analyse: Analyse) -> None:
    assert "same-number" not in codes(
        analyse({"bike.toml": BIKE, "before/a.csv": readings(16), "after/b.csv": readings(15)})
    )
