"""`gearfit predict`: what it prints from a file and from a ride, for people and programs, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from tests.eight_starts import write_eight_starts
from tests.simulator.samples import SAMPLE_TRUTHS
from tests.test_cli import fails_with, sheet

SAMPLES = Path(__file__).parents[1] / "sample_logs"
BIKE = """
name = "Tarn 350"
[engine]
limit_rpm = 10500
torque_nm = 32
[gearbox]
primary = "74/25"
gears = ["35/13", "31/17", "28/20", "26/22", "24/24", "23/26"]
[final_drive]
front = 14
rear = 43
chain = "520"
links = 112
slack_mm = [35, 45]
adjuster_mm = [0, 25]
axle_at_mm = 24
[tyre]
rolling_circumference_mm = 1950
[mass]
total_kg = 255
wheelbase_mm = 1410
cg_height_mm = 640
cg_to_rear_mm = 690
"""


@pytest.fixture
def bike(tmp_path: Path) -> str:
    return str(sheet(tmp_path / "bike.toml", BIKE))


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["predict", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def test_a_swap_on_paper_tells_everything(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([bike, "--front", "13", "--change", "-5", "--all"], capsys)
    words = " ".join(out.split())
    titles = [line for line in out.splitlines() if line and line == line.upper() and line[0].isalpha()]
    assert titles == [
        "PAIRS FOR A CHANGE OF −5.00 %",
        "SPEED AT 5000 RPM",
        "TOP SPEED AT THE LIMIT",
        "ENGINE SPEED AT CRUISE",
        "SPEEDOMETER AND ODOMETER",
        "CHAIN AND AXLE",
        "CLIMB AND LIFT",
        "BEFORE YOU TOUCH IT",
    ]
    assert out.startswith("Tarn 350: 14/43 now, 13/43 after\n")
    assert "road speed changes by −7.14 % in every gear" in words
    assert "thrust at the wheel by +7.69 %" in words
    # by hand: 100 km/h in sixth is 6874 rev/min now and 7403 after
    assert ["100.0", "62.1", "6", "6874", "7403"] in [line.split() for line in out.splitlines()]
    assert "The adjuster cannot reach (2.7 mm beyond its rear end). Remove 2 links" in words
    assert "The machine's manual decides" in words
    assert "The axle moves 3.7 mm backwards" in words


def test_nothing_changed_shows_the_pairs_next_to_it(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([bike], capsys)
    assert out.startswith("Tarn 350: 14/43\n")
    assert "PAIRS NEXT TO THIS ONE" in out
    assert "after" not in out.split("PAIRS")[0]


def test_a_wish_that_no_pair_meets_names_the_nearest(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([bike, "--wish", "3000 rpm at 90 km/h", "--units", "mph", "--all"], capsys)
    # by hand: 25/3 m/s at 3000 rev/min is 8.3333 m/s per 1000, against 4.04107 now
    assert "PAIRS FOR 56 MPH AT 3000 RPM IN TOP GEAR, A CHANGE OF +106.22 %" in out
    words = " ".join(out.split())
    assert (
        "No pair within reach (front by up to 3 teeth, rear by up to 6) comes within 1 percentage point of "
        "the wish; the nearest are:" in words
    )
    assert "17/37" in out


def test_another_tyre_shows_both_and_the_spread(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = sheet(tmp_path / "b.toml", BIKE.replace("rolling_circumference_mm = 1950", 'size = "140/70-17"'))
    out = printed([str(path), "--tyre", "4.25/85-18", "--all"], capsys)
    assert "140/70-17 now, 14/43, 4.25/85-18 after" in out
    # by hand: 2 x 0.85 x 107.95 + 457.2 = 640.7 mm against 627.8 mm
    assert f"changes by +{100 * (640.715 / 627.8 - 1):.2f} %" in out
    assert "standard deviation of 2 %" in " ".join(out.split())
    assert "CHAIN AND AXLE" not in out


def test_programs_get_the_same_in_si(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(printed([bike, "--rear", "45", "--json"], capsys))
    assert found["schema"] == "gearfit-prediction-1"
    assert found["change_percent"] == pytest.approx(100 * (43 / 45 - 1))
    assert found["gears"][5]["now_mps"] == pytest.approx(5000 / 247.46, rel=1e-4)
    assert found["after"]["final_drive"]["rear"] == 45
    assert found["chain"]["axle_movement_m"] < 0


def test_a_ride_folder_counts_with_what_was_fitted(capsys: pytest.CaptureFixture[str]) -> None:
    truth = SAMPLE_TRUTHS["trail-bike"]
    found = json.loads(printed([str(SAMPLES / "trail-bike"), "--front", "13", "--json"], capsys))
    assert found["now"]["known_from"] == ["ride"] * 6
    assert found["now"]["circumference_from"] == "fitted to the ride before"
    assert found["now"]["circumference_m"] == pytest.approx(truth.circumference_m, rel=0.005)
    assert found["now"]["speed_per_1000rpm_mps"] == pytest.approx(truth.speed_per_1000rpm_mps["before"], rel=0.01)
    assert found["after"]["speed_per_1000rpm_mps"] == pytest.approx(
        [13 / 14 * speed for speed in truth.speed_per_1000rpm_mps["before"]], rel=0.01
    )
    other = json.loads(printed([str(SAMPLES / "trail-bike"), "--setup", "after", "--json"], capsys))
    assert other["now"]["final_drive"]["rear"] == 50
    assert other["after"] is None


def test_speeds_of_a_speedometer_are_said_to_be_its(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet(tmp_path / "bike.toml", BIKE)
    sheet(tmp_path / "before" / "holds.csv", "gear,rpm,indicated_kmh\n1,5000,26\n2,5000,38\n3,5000,49\n4,5000,58\n")
    out = " ".join(printed([str(tmp_path), "--all"], capsys).split())
    assert "They are what the speedometer showed, with its error." in out
    assert "good to about" in out


def test_a_folder_without_rides_counts_on_paper(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet(tmp_path / "bike.toml", BIKE + "[setups.before]\n[setups.after]\nfront = 15\n")
    out = printed([str(tmp_path), "--all"], capsys)
    assert out.startswith("Tarn 350: 14/43 now, 15/43 after\n")
    assert "Speeds rest on the tooth counts" in out


def test_the_wish_of_the_bike_file_is_meant_against_the_first_setup(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = BIKE + "[wish]\nchange_percent = -5\n[setups.before]\n[setups.after]\nfront = 13\n"
    path = sheet(tmp_path / "bike.toml", text)
    found = json.loads(printed([str(path), "--json"], capsys))
    assert found["wishes"][0]["wanted_percent"] == pytest.approx(-5)
    found = json.loads(printed([str(path), "--setup", "after", "--json"], capsys))
    assert found["wishes"][0]["wanted_percent"] == pytest.approx(100 * (0.95 / (13 / 14) - 1))


def test_a_wish_without_counted_teeth_asks_for_them(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([str(SAMPLES / "no-papers"), "--change", "-5"], capsys)
    words = " ".join(out.split())
    assert out.startswith("This machine: sprockets not stated\n")
    assert "The wish is a change of −5.00 % against now." in words
    assert "needs the teeth that are fitted now: count them and state front and rear." in words


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["--front", "2"],
            "--front: found 2; allowed are whole numbers from 3 to 200 (teeth). Correct the value or leave the option "
            "out.",
        ),
        (
            ["--front", "50"],
            "--front, --rear: found 50/43; allowed is a wheel sprocket (rear) with at least as many teeth as the "
            "gearbox sprocket (front). Correct them.",
        ),
        (
            ["--tyre", "140/7-17"],
            "--tyre: '140/7-17' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18. "
            "Correct the value or leave the option out.",
        ),
        (
            ["--tyre", "140/20-17"],
            "--tyre: '140/20-17' cannot be a tyre; allowed are widths 50-400 mm, aspect ratios 25-110 %, rims 8-24 in. "
            "Correct the value or leave the option out.",
        ),
        (
            ["--circumference", "19"],
            "--circumference: found 19.0; allowed are numbers from 500 to 4000 mm. Correct the value or leave the "
            "option out.",
        ),
        (
            ["--rpm", "nan"],
            "--rpm: found NaN; allowed are numbers from 500 to 30000 rev/min. Correct the value or leave the option "
            "out.",
        ),
        (
            ["--change", "-80"],
            "--change: found -80.0; allowed are numbers from -50 to 100 %. Correct the value or leave the option out.",
        ),
        (
            ["--wish", "90"],
            '--wish: found "90"; allowed is an engine speed in rpm and a road speed in mph or km/h. Write it as '
            '"5300 rpm at 70 mph".',
        ),
        (
            ["--wish", "4000 rpm at 400 mph"],
            '--wish: found "4000 rpm at 400 mph"; allowed are 6 to 186 mph. Correct the value.',
        ),
        (
            ["--known", "90 rpm at 70 mph"],
            "--known: found 90.0; allowed are numbers from 500 to 30000 rev/min. Correct the value or leave the option "
            "out.",
        ),
        (
            ["--cruise", "fast"],
            '--cruise: found "fast"; allowed is a speed in mph or km/h. Write it as 70mph or 110kmh.',
        ),
        (
            ["--to", "13"],
            '--to: found "13"; allowed are the teeth of both sprockets, gearbox first. Write it as 14/44.',
        ),
        (
            ["--from", "14/43"],
            "--from: found beside BIKE, which states the machine. State it there, or leave one of them out.",
        ),
        (
            ["--setup", "later"],
            "--setup: found 'later'; allowed are the setups of bike.toml: none. Correct it.",
        ),
        (
            ["--front", "13", "--span", "0-80kmh"],
            '--span: found "0-80kmh" for a bike file; allowed with a ride folder only. Give the ride folder.',
        ),
        (
            ["--front", "13", "--span", "80-0kmh"],
            '--span: found "80-0kmh"; allowed are spans at least 8 km/h (5 mph) wide and below 540 km/h. Give the '
            "lower speed first and the target second.",
        ),
    ],
)
def test_what_cannot_be(bike: str, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["predict", bike, *arguments], capsys) == message.replace("BIKE", bike)


@pytest.mark.parametrize(
    ("sample", "arguments", "message"),
    [
        (
            "trail-bike",
            ["--setup", "after"],
            "no change is stated, so no time changes. Give --front, --rear or --tyre.",
        ),
        (
            "motorway-commuter",
            ["--rear", "50"],
            "the ride does not show full throttle from first gear up to near the stated limit_rpm, again and again, "
            "with engine speed at least 5 times a second, to predict times. State limit_rpm and ride at full throttle "
            "on a closed road or track, or leave the option out.",
        ),
    ],
)
def test_times_that_a_ride_cannot_give(
    sample: str, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = fails_with(["predict", str(SAMPLES / sample), *arguments, "--span", "0-80kmh"], capsys)
    assert found == f"--span: {message}"


def test_spans_asked_for_are_predicted_from_the_ride(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--front", "13", "--span", "0-80kmh", "--span", "0 - 80 km/h", "--span", "30-60mph", "--json"]
    found = json.loads(printed([str(write_eight_starts(tmp_path / "bike")), *asked], capsys))["from_ride"]["spans"]
    assert [span["to_mps"] for span in found] == pytest.approx([80 / 3.6, 60 * 0.44704])
    assert found[0]["difference_s"]["lo95"] < found[0]["difference_s"]["hi95"]


def test_a_chain_that_cannot_go_round_is_said_so(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([bike, "--rear", "190", "--all"], capsys)
    words = " ".join(out.split())
    assert (
        "This chain cannot go on: found 112 links round 14 and 190 teeth; allowed are more than 193.2 links." in words
    )


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["predict", str(tmp_path / "bike.toml")], capsys) == (
        "bike.toml: cannot be opened (No such file or directory). Check the path."
    )


def test_a_span_that_the_machine_does_not_reach_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["predict", str(write_eight_starts(tmp_path / "bike")), "--rear", "52", "--span", "0-190kmh", "--all"])
        == 0
    )
    said = " ".join(capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ").split())
    assert "TIMES FROM THE RIDE Not reached on paper: 0 to 190 km/h." in said


def test_two_tooth_pairs_are_enough(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(["--from", "14/44", "--to", "13/45", "--known", "5300 rpm at 70 mph"], capsys)
    words = " ".join(out.split())
    # by hand: (13 x 44) / (14 x 45) = 0.907937, 5300 / 0.907937 = 5837.4, 70 x 0.907937 = 63.56
    assert "road speed changes by −9.21 % in every gear" in words
    assert "engine speed is multiplied by 1.101." in words
    assert "At 70 mph in that gear: 5300 becomes 5837 rpm." in words
    assert "At 5300 rpm in that gear: 70.0 becomes 63.6 mph." in words
    assert "Chain: as many teeth in all as before" in words
    assert "+10.1 % if driven from the gearbox output, as before elsewhere" in words
    assert "manual decides" in words
    assert len(out.splitlines()) <= 12


@pytest.mark.parametrize(
    ("known", "cruise", "line"),
    [
        ("70 mph at 5300 rpm", "35mph", "At 35 mph in that gear: 2650 becomes 2919 rpm."),
        ("5300rpm 112,65 km/h", "100", "At 100 km/h in that gear: 4705 becomes 5182 rpm."),
        ("5300 RPM @ 70MPH", "100 km/h", "At 62 mph in that gear: 4705 becomes 5182 rpm."),
    ],
)
def test_a_cruise_from_one_pair_as_people_write_it(
    known: str, cruise: str, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = printed(["--from", "14/44", "--to", "13/45", "--known", known, "--cruise", cruise], capsys)
    assert line in out


def test_teeth_alone_answer_a_wish_and_everything_that_they_can(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(["--from", "14/44", "--known", "5300 rpm at 70 mph", "--wish", "70 mph at 4800 rpm"], capsys)
    # by hand: 5300 / 4800 - 1
    assert out.splitlines()[2] == "PAIRS FOR 70 MPH AT 4800 RPM IN THAT GEAR, A CHANGE OF +10.42 %"
    everything = printed(["--from", "14/44", "--to", "13/44", "--all"], capsys)
    assert "SPEED AT" not in everything
    assert "1 tooth fewer in all" in everything
    found = json.loads(printed(["--from", "14/44", "--to", "13/45", "--json"], capsys))
    assert found["gears"] == []
    assert found["change_percent"] == pytest.approx(100 * (13 * 44 / (14 * 45) - 1))


def test_a_whole_machine_on_the_command_line_is_that_of_a_file(bike: str, capsys: pytest.CaptureFixture[str]) -> None:
    stated = ["--from", "14/43", "--to", "13/43", "--primary", "74/25", "--circumference", "1950", "--json"]
    gears = ["--gears", "35/13 31/17, 28/20, 26/22; 24/24 23/26"]
    found = json.loads(printed([*stated, *gears], capsys))
    of_file = json.loads(printed([bike, "--front", "13", "--json"], capsys))
    assert found["gears"] == [{**gear, "limit_now_mps": None, "limit_after_mps": None} for gear in of_file["gears"]]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            [],
            "the machine: neither teeth nor a file are given; allowed are --from and --to, a bike.toml, or a ride "
            "folder. Count the teeth and write --from 14/44 --to 13/45.",
        ),
        (
            ["--from", "14/44", "--to", "13/44", "--cruise", "70mph"],
            "--cruise: no gear's speed is known from teeth alone. Add one pair of speeds that you know, as --known "
            '"5300 rpm at 70 mph".',
        ),
        (
            ["--from", "14/44", "--gears", "35/13 31/17"],
            "--gears: found alone; allowed are --primary and --gears together. Give both, or neither.",
        ),
        (
            ["--from", "14/44", "--primary", "three", "--gears", "35/13"],
            '--primary: found "three"; allowed are driven/driving teeth as text such as "74/25" (3 to 200 teeth each), '
            "or a number, with a ratio from 0.5 to 10. Correct the value or leave the option out.",
        ),
        (
            ["--from", "44/14"],
            "--front, --rear: found 44/14; allowed is a wheel sprocket (rear) with at least as many teeth as the "
            "gearbox sprocket (front). Correct them.",
        ),
    ],
)
def test_teeth_that_cannot_be(arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["predict", *arguments], capsys) == message
