"""The step of the engine speed that all sheets of a folder show together."""

from __future__ import annotations

from pathlib import Path

import pytest

import gearfit

#: Held at 20 and 30 mph, the needle read to the mark of 250 beside it.
FINE, COARSE = (3251, 2499, 1748, 2250, 2001), (3250, 2500, 1750, 2250, 2000)
SPEEDS = (20, 20, 20, 30, 30)


def steps(folder: Path, rpm: tuple[int, ...], speeds: tuple[int, ...], header: str = "speed_mph") -> set[float | None]:
    for name, rows in (("before", slice(2)), ("after", slice(2, None))):
        (folder / name).mkdir()
        lines = [f"{g},{n},{v}" for g, (n, v) in enumerate(zip(rpm[rows], speeds[rows], strict=True), 1)]
        (folder / name / "a.csv").write_text("\n".join([f"gear,rpm,{header}", *lines]), encoding="utf-8")
    return {r.rpm_step_rpm for s in gearfit.read_folder(folder).setups for r in s.recordings}


@pytest.mark.parametrize("header", ["speed_mph", "indicated_mph"])
def test_five_engine_speeds_beside_two_held_speeds_were_read_to_their_marks(tmp_path: Path, header: str) -> None:
    assert steps(tmp_path, COARSE, SPEEDS, header) == {250.0}


def test_engine_speeds_written_finely_were_read_finely(tmp_path: Path) -> None:
    assert steps(tmp_path, FINE, SPEEDS) == {1.0}


def test_engine_speeds_that_were_held_tell_no_step(tmp_path: Path) -> None:
    assert steps(tmp_path, COARSE, (21, 34, 27, 48, 55)) == {1.0}
