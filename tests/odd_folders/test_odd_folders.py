"""A short run of the odd folders; the long one is `python -m tests.odd_folders`, its results are in docs/fuzzing.md."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gearfit
from tests.odd_folders import alike, logs, sheets
from tests.odd_folders.__main__ import try_folder, try_pair
from tests.odd_folders.folders import odd_folder, write
from tests.odd_folders.machines import SETUPS, draw_machine, ridden
from tests.odd_folders.oddities import odd_ride
from tests.odd_folders.outcome import outcome
from tests.odd_folders.papers import right, toml
from tests.odd_folders.spellings import NEAR, pair

#: Seeds of folders that ended in a traceback or a warning of a library, by what they hold.
MENDED = {
    "one time in all rows of a log": 24,
    "a ride without any scatter": 98,
    "no riding, and the thrust ran off": 148,
    "ratios that no tooth pair has": 886,
    "times that repeat": 1307,
    "readings without an error that they could share": 5571,
    "a speed below what the dash is off by": 6765,
}
#: Seeds of pairs that differed: one notebook in two files.
TWO_FILES = (68, 107, 108, 167)


@pytest.mark.parametrize("seed", MENDED.values(), ids=MENDED)
def test_what_failed_once(seed: int) -> None:
    assert try_folder(seed, pictures=False)[2] == ""


@pytest.mark.parametrize("seed", TWO_FILES)
def test_one_notebook_in_two_files(seed: int) -> None:
    assert pair(seed).spelling == "two files"
    assert alike.differences(pair(seed)) == []


@pytest.mark.parametrize("first", range(100_000, 100_020, 10))
def test_odd_folders(first: int) -> None:
    found = [try_folder(seed, pictures=False) for seed in range(first, first + 10)]
    assert [one for one in found if one[2]] == []
    assert {kind for _, kind, _ in found} == {"report", "refused"}


def test_an_odd_folder_with_its_pictures() -> None:
    assert try_folder(100_002, pictures=True) == (100_002, "report", "")


@pytest.mark.parametrize("first", range(100_000, 100_010, 5))
def test_spellings(first: int) -> None:
    assert [wrong for seed in range(first, first + 5) if (wrong := try_pair(seed, pictures=False)[2])] == []


def test_a_seed_gives_the_same_folder_again() -> None:
    assert odd_folder(5) == odd_folder(5) != odd_folder(6)


def test_a_traceback_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise KeyError("no such gear")

    monkeypatch.setattr(gearfit, "analyse", fail)
    assert outcome(write(pair(2).one, tmp_path), pictures=False).fault.startswith("KeyError: 'no such gear' (")


def test_an_error_of_two_lines_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise gearfit.GearfitError("one\ntwo")

    monkeypatch.setattr(gearfit, "analyse", fail)
    assert "more than one line" in outcome(write(pair(2).one, tmp_path), pictures=False).fault


def test_a_wrong_digit_is_seen() -> None:
    two = next(one for one in map(pair, range(100)) if one.spelling == "semicolons" and len(one.one) > 2)
    name = next(name for name in two.other if name.startswith("before/") and "readings" in name)
    lines = two.other[name].split(b"\n")
    lines[1] = lines[1].replace(b".", b"1.")
    assert alike.differences(replace(two, other={**two.other, name: b"\n".join(lines)})) != []


def test_intervals_that_do_not_meet_are_seen() -> None:
    """The change of other sprockets is not near that of these."""
    one, other = (next(p for p in map(pair, range(start, 200)) if p.agree == NEAR).one for start in (0, 120))
    assert alike.differences(replace(pair(0), one=one, other=other, agree=NEAR)) != []


@pytest.mark.parametrize("every_s", [1, 2])
def test_times_in_whole_seconds_lose_rows_and_not_the_change(every_s: int, tmp_path: Path) -> None:
    """Ten rows a second, the clock cut to seconds: the first row of each second is one at its time."""
    rng = np.random.default_rng(5)
    machine = draw_machine(rng)
    files = {"bike.toml": toml(right(machine)).encode()}
    for which, name in enumerate(SETUPS):
        ride = ridden(rng, machine, which, 10, 300)
        cut = replace(ride, time_s=np.floor(ride.time_s / every_s) * every_s)
        files[f"{name}/log.csv"] = logs.text_log(cut, sheets.Style(decimals=2))
    analysis = gearfit.analyse(gearfit.read_folder(write(files, tmp_path)))
    (front, rear), (other_front, other_rear) = machine.sprockets
    change = analysis.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.lo95 < 100 * (other_front / other_rear * rear / front - 1) < change.hi95
    for setup in analysis.setups:
        assert 2500 < setup.left_out["at the same time as the row before"] <= 3000 - 300 // every_s


def test_rides_without_rows_stay_without() -> None:
    rng = np.random.default_rng(1)
    machine = draw_machine(rng)
    for _ in range(200):
        ride = odd_ride(rng, ridden(rng, machine, 0, 1, 20))
        assert len({ride.time_s.size, ride.gear.size, ride.rpm.size, ride.speed_mps.size}) == 1
