"""A row noted in a wrong gear is named and excluded; a gearbox that lacks gears numbers nothing (invented bikes)."""

from __future__ import annotations

import pytest

from gearfit.records.results import SetupResult
from tests.findings.conftest import BIKE, GEARS, SETUPS, Analyse, codes, only, speeds_kmh

RPM = (3000, 4000, 5000)


def rows(front: int, gears: tuple[int, ...] = (1, 2, 3, 4, 5, 6)) -> list[tuple[int, int, float]]:
    """Gear, engine speed and speed as ridden."""
    return [(gear, rpm, speeds_kmh(front, rpm=rpm)[gear - 1]) for rpm in RPM for gear in gears]


def noted(ridden: list[tuple[int, int, float]]) -> str:
    return "gear,rpm,speed_kmh\n" + "".join(f"{gear or ''},{rpm},{speed:.0f}\n" for gear, rpm, speed in ridden)


def without(gear: int) -> str:
    """bike.toml of the machine without one of its gears."""
    left = [ratio for number, ratio in enumerate(GEARS, 1) if number != gear]
    return BIKE.replace(str(list(GEARS)), str(left)) + SETUPS


def gears_of(result: SetupResult) -> dict[int, int]:
    return {gear.gear: gear.samples for gear in result.gears}


@pytest.mark.parametrize("bike", [SETUPS, BIKE + SETUPS], ids=["sprockets", "gearbox"])
def test_a_lone_row_noted_in_the_gear_below_is_no_second_gear(analyse: Analyse, bike: str) -> None:
    """Second is held three times after, and before only by a slip of the pen: it was third."""
    before = [row for row in rows(16) if row[0] != 2]
    before[-4] = (2, *before[-4][1:])
    assert before[-4][2] == speeds_kmh(16)[2]
    found = analyse({"bike.toml": bike, "before/a.csv": noted(before), "after/b.csv": noted(rows(15))})
    right = speeds_kmh(16)[1]
    said = only(found, "odd-row").text
    assert said.startswith("before/a.csv, line 13: noted as second gear, but lies where third gear is: at 5000 rpm ")
    assert abs(float(said.split("second gear would be ")[1].split(" ")[0]) - right) <= 1
    assert gears_of(found.setups[0]) == {1: 3, 3: 2, 4: 3, 5: 3, 6: 3}, "in neither gear"
    (row,) = found.setups[0].outlying_rows
    assert (row.row, row.gear) == (13, 2)
    assert [gear.gear for gear in found.comparisons[0].gears] == [1, 3, 4, 5, 6]


def test_a_row_read_to_five_is_named_beside_another_of_its_gear(analyse: Analyse) -> None:
    """First at 3000 rpm was noted as second: 15 and 20 mph there, read to 5 mph, cannot both be second."""
    ladder = 'gears = [2.93, 2.235, 1.789, 1.4545, 1.2083, 0.9643]\nprimary = 1.5667\n[tyre]\nsize = "140/70-17"\n'
    sprockets = "[setups.before]\nfront = 15\nrear = 50\n[setups.after]\nfront = 16\nrear = 53\n"
    speeds = (15, 20, 25, 30, 35, 40)
    sheets = [
        "".join(f"{g},3000,{v}\n" for g, v in zip(at, speeds, strict=True)) for at in ((2, 2, 3, 4, 5, 6), range(1, 7))
    ]
    head = "gear,rpm,gps_mph\n"
    found = analyse(
        {
            "bike.toml": f"[gearbox]\n{ladder}{sprockets}",
            "before/a.csv": head + sheets[0],
            "after/b.csv": head + sheets[1],
        }
    )
    assert "a.csv, line 2: noted as second gear, but lies where first gear is" in only(found, "odd-row").text


def test_a_lone_row_against_the_same_reading_three_times(analyse: Analyse) -> None:
    """One engine speed a gear: three readings alike speak as three, and third after is one row of fourth."""
    ridden = [(gear, 3000, speeds_kmh(16, rpm=3000)[gear - 1]) for gear in (1, 2, 3, 4)]
    after = [row for row in ridden if row[0] != 3] * 3
    after[-1] = (3, *after[-1][1:])
    found = analyse({"before/a.csv": noted(ridden * 3), "after/b.csv": noted(after)})
    said = only(found, "odd-row").text
    assert said.startswith("after/b.csv, line 10: noted as third gear, but lies where fourth gear is: at 3000 rpm ")
    assert [gear.gear for gear in found.comparisons[0].gears] == [1, 2, 4]


def test_a_lone_row_against_another_lone_row_names_neither(analyse: Analyse) -> None:
    ridden = [(gear, 3000, speeds_kmh(16, rpm=3000)[gear - 1]) for gear in (1, 2, 3, 4)]
    after = [row for row in ridden if row[0] != 3] * 3
    after[-1] = (3, *after[-1][1:])
    once = [*ridden, *(row for row in ridden * 2 if row[0] != 3)]
    found = analyse({"before/a.csv": noted(once), "after/b.csv": noted(after)})
    assert not any("noted as third gear, but lies" in finding.text for finding in found.findings)


def test_a_gear_without_a_row_beside_one_with_two_is_told(analyse: Analyse) -> None:
    """46 km/h in second was written as 64, which lies in fourth: no gear was noted, and nothing else shows it."""
    speeds = {"before": (37, 64, 53, 62, 70, 80), "after": (34, 42, 50, 60, 65, 75)}
    gears = 'gears = ["37/16", "35/18", "32/20", "30/22", "29/24", "27/25"]'
    bike = (
        f'[gearbox]\nprimary = "61/25"\n{gears}\n[tyre]\nsize = "130/80-17"\n[setups.before]\nfront = 14\nrear = 39\n'
    )
    bike += "[setups.after]\nfront = 13\nrear = 39\n"
    sheets = {f"{name}/a.csv": "rpm,speed_kmh\n" + "".join(f"5000,{v}\n" for v in speeds[name]) for name in speeds}
    said = only(analyse({"bike.toml": bike, **sheets}), "gear-without-reading").text
    assert said == (
        "before: no reading lies in second gear, and more than in the others in fourth gear. One may be misread so "
        "that it lies in another gear: write beside each row which gear it was (column gear)."
    )
    sheets["before/a.csv"] = sheets["before/a.csv"].replace("5000,64", "5000,46")
    assert "gear-without-reading" not in codes(analyse({"bike.toml": bike, **sheets}))


def test_a_wild_reading_accuses_no_other(analyse: Analyse) -> None:
    """Digits swapped in one row of third; the other rows of that gear are right."""
    before, after = rows(16), rows(15)
    gear, rpm, speed = before[8]
    tens, ones = divmod(round(speed), 10)
    before[8] = (gear, rpm, 10.0 * ones + tens)
    found = analyse({"bike.toml": SETUPS, "before/a.csv": noted(before), "after/b.csv": noted(after)})
    assert [row.row for row in found.setups[0].outlying_rows] == [10]


def test_good_notes_are_left_alone(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": noted(rows(16)), "after/b.csv": noted(rows(15))})
    assert not {"odd-row", "gearbox-lacks-gear"} & set(codes(found))
    assert [gears_of(result) for result in found.setups] == [dict.fromkeys(range(1, 7), 3)] * 2


def test_of_two_rows_in_a_gear_it_is_not_said_which_is_wrong(analyse: Analyse) -> None:
    """One row a gear in each setup: fifth noted where sixth lies after, or the reading of before is wrong."""
    after = [row for row in rows(15) if row[1] == 5000]
    after[4] = (5, 5000, after[5][2])
    before = [row for row in rows(16) if row[1] == 5000]
    found = analyse({"bike.toml": SETUPS, "before/a.csv": noted(before), "after/b.csv": noted(after)})
    assert "odd-row" not in codes(found)
    assert "before/a.csv line 6" in only(found, "gear-out-of-line").text
    assert "after/b.csv line 6" in only(found, "gear-out-of-line").text


def test_a_gearbox_without_fourth_numbers_nothing_but_the_change_stays(analyse: Analyse) -> None:
    """Only the upper gears were ridden, none noted: nothing says which they are."""
    sheets = [noted([(0, rpm, speed) for _, rpm, speed in rows(front, (3, 4, 5, 6))]) for front in (16, 15)]
    found = analyse({"bike.toml": without(4), "before/a.csv": sheets[0], "after/b.csv": sheets[1]})
    said = only(found, "gearbox-lacks-gear")
    assert said.severity == "warning"
    assert said.text.startswith("bike.toml states 5 gears, but readings without a noted gear lie where it has none")
    assert "before/a.csv, line 3" in said.text
    assert "(column gear)" in said.text
    assert codes(found).count("gears-counted") == 2
    assert not {"bike-file-incomplete", "tooth-pairs-of-ride", "circumference"} & set(codes(found))
    assert [result.circumference for result in found.setups] == [None, None]
    assert [gears_of(result) for result in found.setups] == [dict.fromkeys((1, 2, 3, 4), 3)] * 2, "counted, none mixed"
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(100 * (15 / 16 - 1))


def test_more_gears_noted_than_stated_number_the_rows_without(analyse: Analyse) -> None:
    """Every second row was noted, up to sixth, and bike.toml has five: the notes hold."""
    half = [
        [(gear if i % 2 else 0, rpm, speed) for i, (gear, rpm, speed) in enumerate(sorted(rows(front)))]
        for front in (16, 15)
    ]
    found = analyse({"bike.toml": without(3), "before/a.csv": noted(half[0]), "after/b.csv": noted(half[1])})
    assert only(found, "gearbox-lacks-gear").text.startswith(
        "bike.toml states 5 gears, but before/a.csv, line 17 notes sixth gear"
    )
    assert [gears_of(result) for result in found.setups] == [dict.fromkeys(range(1, 7), 3)] * 2
    assert [result.circumference for result in found.setups] == [None, None]
