"""Files of one folder that hold the same readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearfit.importers import read_folder
from gearfit.records.recording import Copy

RUNS = "from_mph,to_mph,time_s\n0,60,6.1\n0,60,6.3\n0,60,6.2\n30,60,3.8\n"
ROWS = ((2, 4000, 25), (2, 5000, 31), (3, 4000, 33), (3, 5000, 41), (4, 5000, 50))
SHEET = "gear,rpm,speed_mph\n" + "".join(f"{g},{n},{v}\n" for g, n, v in ROWS)
IN_KMH = "gear;rpm_x1000;speed_kmh\n" + "".join(f"{g};{n / 1000};{v * 1.609344:.1f}\n" for g, n, v in ROWS)
TIME_S = 0.2 * np.arange(400)
RPM = np.round(4000 + 1500 * np.sin(0.13 * TIME_S) + 300 * np.sin(1.7 * TIME_S)).astype(int)
KMH = np.round(50 + 18 * np.sin(0.13 * TIME_S) + 3 * np.sin(1.7 * TIME_S), 1)
LOG = "time_s,rpm,speed_kmh\n" + "".join(f"{t:.1f},{n},{v}\n" for t, n, v in zip(TIME_S, RPM, KMH, strict=True))


def log_rows(start: int = 0, stop: int = 400, step: int = 1, origin_s: float = 0.0) -> str:
    """Write the same samples with times of the day and in m/s, as another program would export them."""
    rows = range(start, stop, step)
    times = [36_000 + origin_s + TIME_S[k] for k in rows]
    clock = [f"{int(t) // 3600:02d}:{int(t) // 60 % 60:02d}:{t % 60:06.3f}" for t in times]
    cells = zip(clock, (RPM[k] for k in rows), (KMH[k] / 3.6 for k in rows), strict=True)
    return "Time;Engine RPM;Speed (m/s)\n" + "".join(f"{t};{n};{v:.2f}\n" for t, n, v in cells)


def fill(root: Path, files: dict[str, str]) -> tuple[list[str], tuple[Copy, ...]]:
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    folder = read_folder(root)
    return [recording.file for ride in folder.setups for recording in ride.recordings], folder.copies


@pytest.mark.parametrize(
    ("one", "other", "part"),
    [
        (RUNS, RUNS, False),
        (RUNS, RUNS.replace(",", ";"), False),
        (SHEET, SHEET + "\n", False),
        (SHEET, IN_KMH, False),
        (SHEET, "\n".join(SHEET.split("\n")[:5]) + "\n", True),
        (LOG, LOG, False),
        (LOG, log_rows(), False),
        (LOG, log_rows(100, 180, origin_s=77.7), True),
        (LOG, log_rows(0, 400, 5), True),
        (LOG, "time_s,rpm\n" + "".join(f"{t:.1f},{n}\n" for t, n in zip(TIME_S, RPM, strict=True)), False),
    ],
    ids=["bytes", "delimiter", "blank line", "unit", "cut", "log", "log exported", "log cut", "log thinned", "channel"],
)
def test_the_same_readings_count_once(tmp_path: Path, one: str, other: str, part: bool) -> None:
    files, copies = fill(tmp_path, {"before/a.csv": one, "before/a (1).csv": other})
    assert files == ["before/a.csv"]
    assert copies == (Copy("before/a (1).csv", "before/a.csv", part, counts_once=True),)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("from_kmh,to_kmh,time_s\n0,100,6.1\n0,100,6.3\n", "from_kmh,to_kmh,time_s\n0,100,6.1\n"),
        (RUNS, RUNS.replace("3.8", "3.9")),
        (RUNS, RUNS.replace("6.1\n0,60,6.3", "6.3\n0,60,6.1")),
        (SHEET, SHEET.replace("3,4000,33", "3,4000,34")),
        (SHEET, SHEET.replace("3,4000,33", "4,4000,33")),
        (LOG, log_rows().replace(f";{RPM[200]};", f";{RPM[200] + 2};")),
        (LOG, "time_s,rpm,speed_kmh\n0,900,0\n1,900,0\n2,900,0\n3,900,0\n"),
        (RUNS, SHEET),
    ],
    ids=["one time", "a time", "order", "a speed", "a gear", "an engine speed", "idling", "kinds"],
)
def test_other_readings_stay(tmp_path: Path, one: str, other: str) -> None:
    files, copies = fill(tmp_path, {"before/a.csv": one, "before/b.csv": other})
    assert files == ["before/a.csv", "before/b.csv"]
    assert copies == ()


def test_three_times_that_come_up_again_are_no_cut_copy(tmp_path: Path) -> None:
    """Ten runs to a tenth of a second; three more of another day, each one of which stands among them, are likely."""
    many = "from_mph,to_mph,time_s\n" + "".join(
        f"0,60,{t}\n" for t in (6.1, 6.2, 6.1, 6.2, 6.2, 6.1, 6.1, 6.2, 6.3, 6.1)
    )
    few = "from_mph,to_mph,time_s\n0,60,6.2\n0,60,6.2\n0,60,6.1\n"
    assert fill(tmp_path, {"before/a.csv": many, "before/b.csv": few})[1] == ()


def test_the_same_number_read_again_in_one_sheet_stays(tmp_path: Path) -> None:
    fill(tmp_path, {"before/a.csv": SHEET + "2,4000,25\n2,4000,25\n"})
    assert len(read_folder(tmp_path).setups[0].recordings[0].samples) == 7


def test_engine_speeds_to_be_held_are_alike_by_intent(tmp_path: Path) -> None:
    """One card of engine speeds serves for each ride; only where there is one ride is the second sheet a copy."""
    holds = "gear,rpm\n2,4000\n3,4000\n4,5000\n"
    one_ride = {
        "before/holds.csv": holds,
        "before/ride.csv": LOG,
        "after/holds.csv": holds,
        "after/ride.csv": LOG[:900],
    }
    _, copies = fill(tmp_path, one_ride)
    assert [copy.file for copy in copies] == ["after/ride.csv"], "the log is said, the card is not"
    files, copies = fill(tmp_path, {"before/holds 2.csv": holds})
    assert "before/holds 2.csv" not in files
    other = LOG.replace(",4", ",5")
    files, copies = fill(tmp_path, {"before/ride 2.csv": other})
    assert "before/holds 2.csv" in files


def test_the_same_readings_in_two_setups_are_said_and_kept(tmp_path: Path) -> None:
    files, copies = fill(tmp_path, {"before/a.csv": SHEET, "after/b.csv": IN_KMH})
    assert files == ["before/a.csv", "after/b.csv"]
    assert copies == (Copy("after/b.csv", "before/a.csv", part=False, counts_once=False),)
