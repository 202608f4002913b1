"""bike.toml: what is read, and the whole message for what is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import BikeFileError
from gearfit.machine.bike import Bike, FinalDrive, Motion, Setup, Tyre
from gearfit.machine.bike_file import read_bike
from gearfit.machine.bike_rules import CHAIN_CODES, RULES, chain_pitch_mm

INVENTED = """
name = "Tarn 350"
[engine]
cylinders = 2
strokes = 4
limit_rpm = 10500
[gearbox]
primary = "74/25"
gears = ["35/13", "31/17", 1.43]
[final_drive]
kind = "chain"
front = 14
rear = 43
chain = "520"
links = 112
slack_mm = [35, 45]
adjuster_mm = [0, 25]
axle_at_mm = 11.5
[tyre]
size = "140/70-17"
[speedometer]
driven_from = "gearbox output"
regulation = "UNECE R39"
[mass]
total_kg = 255
[motion]
drag_area_m2 = 0.55
rolling_coefficient = 0.016
rotating_kg = 10
tyre_grip = 1
[setups.before]
[setups.after]
front = 13
"""

FIX = "Correct the value or leave the key out."


def bike_from(tmp_path: Path, text: str | bytes) -> Bike:
    path = tmp_path / "bike.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_bike(path)


def message(tmp_path: Path, text: str | bytes) -> str:
    with pytest.raises(BikeFileError) as caught:
        bike_from(tmp_path, text)
    return str(caught.value)


def test_everything_stated_is_read(tmp_path: Path) -> None:
    bike = bike_from(tmp_path, INVENTED)
    assert bike.name == "Tarn 350"
    assert (bike.engine.cylinders, bike.engine.strokes, bike.engine.limit_rpm) == (2, 4, 10500.0)
    assert bike.gearbox.primary == 74 / 25
    assert bike.gearbox.gears == (35 / 13, 31 / 17, 1.43)
    assert bike.final_drive == FinalDrive("chain", 14, 43, "520", 15.875, 112, (35.0, 45.0), (0.0, 25.0), 11.5)
    assert bike.tyre == Tyre("140/70-17")
    assert (bike.speedometer.driven_from, bike.speedometer.regulation) == ("gearbox output", "UNECE R39")
    assert bike.total_kg == 255.0
    assert bike.motion == Motion(drag_area_m2=0.55, rolling_coefficient=0.016, rotating_kg=10.0, tyre_grip=1.0)
    assert [(setup.name, setup.final_drive.front, setup.final_drive.rear) for setup in bike.setups] == [
        ("before", 14, 43),
        ("after", 13, 43),
    ]


@pytest.mark.parametrize("text", ["", "# nothing\n", "[engine]\n[tyre]\n", b"\xef\xbb\xbf"])
def test_every_key_is_optional(tmp_path: Path, text: str | bytes) -> None:
    assert bike_from(tmp_path, text) == Bike()


def test_each_table_alone_is_enough(tmp_path: Path) -> None:
    for line in INVENTED.split("[setups.before]")[0].split("\n["):
        table = line if line.lstrip().startswith("name") else f"[{line}"
        assert bike_from(tmp_path, table) != Bike()


@pytest.mark.parametrize(
    ("base", "override", "drive", "tyre"),
    [
        ('chain = "520"\nfront = 14', "rear = 45", FinalDrive(front=14, rear=45, chain="520", pitch_mm=15.875), Tyre()),
        ("pitch_mm = 12.7", 'chain = "520"', FinalDrive(chain="520", pitch_mm=15.875), Tyre()),
        ('chain = "520"', "pitch_mm = 12.7", FinalDrive(pitch_mm=12.7), Tyre()),
        ('chain = "520"\nlinks = 112\nfront = 14', 'kind = "belt"', FinalDrive("belt", front=14), Tyre()),
        (
            '[tyre]\nsize = "140/70-17"\nrolling_circumference_mm = 1950',
            'size = "130/80-17"',
            FinalDrive(),
            Tyre("130/80-17"),
        ),
        (
            '[tyre]\nsize = "140/70-17"\nrolling_circumference_mm = 1950',
            'size = "140/70-17"\nrolling_circumference_sd_mm = 4',
            FinalDrive(),
            Tyre("140/70-17", 1950.0, 4.0),
        ),
    ],
)
def test_a_setup_overrides_and_does_not_keep_what_described_the_old_part(
    tmp_path: Path, base: str, override: str, drive: FinalDrive, tyre: Tyre
) -> None:
    bike = bike_from(tmp_path, f'[final_drive]\n{base}\n[setups."tyre 2.5 bar"]\n{override}\n')
    assert bike.setups == (Setup("tyre 2.5 bar", drive, tyre),)


def test_first_setup_listed_is_the_reference_and_any_name_works(tmp_path: Path) -> None:
    bike = bike_from(tmp_path, "[setups.short]\nfront = 13\n[setups.long]\nfront = 15\n[setups.middle]\nfront = 14\n")
    assert [setup.name for setup in bike.setups] == ["short", "long", "middle"]
    assert bike.setup("short").final_drive.front == 13
    assert bike.setup("elsewhere") == Setup("elsewhere")


def test_no_rule_is_no_regulation(tmp_path: Path) -> None:
    assert bike_from(tmp_path, '[speedometer]\nregulation = "none"').speedometer.regulation is None


@pytest.mark.parametrize(("key", "step_mps"), [("kmh", 5 / 3.6), ("mph", 5 * 0.44704)])
def test_the_step_of_the_dash(tmp_path: Path, key: str, step_mps: float) -> None:
    """A mile an hour is 0.44704 m/s exactly (international yard and pound, 1959)."""
    bike = bike_from(tmp_path, f"[speedometer]\nindicated_step_{key} = 5")
    assert bike.speedometer.indicated_step_mps == pytest.approx(step_mps, rel=1e-12)
    assert bike_from(tmp_path, "").speedometer.indicated_step_mps is None


# ISO 10190 "Motorcycle chains" covers pitches of 6.35 to 19.05 mm; the pitches by code are those of dealers' tables:
# 420 and 428 half an inch, 520, 525 and 530 five eighths, 630 three quarters. 415 and 532 follow from the rule that
# the first digit counts eighths of an inch (from memory).
@pytest.mark.parametrize(
    ("chain", "pitch_mm"),
    [("420", 12.7), ("428", 12.7), ("520", 15.875), ("525", 15.875), ("530", 15.875), ("630", 19.05), ("428H", 12.7)],
)
def test_chain_pitch(tmp_path: Path, chain: str, pitch_mm: float) -> None:
    assert bike_from(tmp_path, f'[final_drive]\nchain = "{chain}"').final_drive.pitch_mm == pytest.approx(pitch_mm)


def test_every_chain_code_has_a_pitch_within_iso_10190() -> None:
    assert all(6.35 <= chain_pitch_mm(code) <= 19.05 + 1e-9 for code in CHAIN_CODES)


def test_chain_code_and_whole_numbers_may_be_written_as_people_do(tmp_path: Path) -> None:
    drive = bike_from(tmp_path, "[final_drive]\nchain = 520\npitch_mm = 15.88\nfront = 14.0\nlinks = 111").final_drive
    assert (drive.chain, drive.pitch_mm, drive.front, drive.links) == ("520", 15.875, 14, 111)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "[final_drive]\nfornt = 14",
            "final_drive.fornt: unknown key (did you mean 'front'?); allowed are kind, front, rear, chain, "
            "pitch_mm, links, slack_mm, adjuster_mm, axle_at_mm. Correct the spelling or remove the key.",
        ),
        (
            "front = 14",
            "front: unknown key (did you mean 'final_drive.front'?); allowed are name, same_clock, engine, gearbox, "
            "final_drive, tyre, speedometer, mass, motion, wish, columns, "
            "conditions, setups. Correct the spelling or remove the key.",
        ),
        (
            "[tire]\nsize = '140/70-17'",
            "tire: unknown key (did you mean 'tyre'?); allowed are name, same_clock, engine, gearbox, "
            "final_drive, tyre, speedometer, mass, motion, wish, columns, "
            "conditions, setups. Correct the spelling or remove the key.",
        ),
        (
            "[mass]\nweight = 14",
            "mass.weight: unknown key; allowed are total_kg, wheelbase_mm, cg_height_mm, cg_to_rear_mm. Correct the "
            "spelling or remove the key.",
        ),
        (
            "[mass]\nwheelbase_mm = 1400\ncg_to_rear_mm = 1400",
            "mass: found cg_to_rear_mm = 1400 and wheelbase_mm = 1400; allowed is a centre of gravity between the "
            "axles. Correct the value or leave the key out.",
        ),
        (
            "[wish]\ncruise_kmh = 90",
            "wish: found cruise_kmh alone; allowed are cruise_kmh and at_rpm together. Correct the value or leave the "
            "key out.",
        ),
        (
            "[wish]\nat_rpm = 4000",
            "wish: found at_rpm alone; allowed are cruise_kmh and at_rpm together. Correct the value or leave the key "
            "out.",
        ),
        (
            "[wish]\nchange_percent = -60",
            "wish.change_percent: found -60; allowed are numbers from -50 to 100 %. Correct the value or leave the key "
            "out.",
        ),
        (
            "[setups.after.tyre]\nsize = '140/70-17'",
            "setups.after.tyre: unknown key; allowed are kind, front, rear, chain, pitch_mm, links, slack_mm, "
            "adjuster_mm, axle_at_mm, size, rolling_circumference_mm, rolling_circumference_sd_mm, "
            "temperature_c, pressure_hpa, altitude_m, correction, same_clock. Correct the spelling or remove the key.",
        ),
        (
            "engine = 4",
            "engine: found 4; allowed is a table. Write [engine] on a line of its own, and its keys below.",
        ),
        (
            "setups = ['before', 'after']",
            'setups: found ["before", "after"]; allowed is a table. Write [setups] on a line of its own, and '
            "its keys below.",
        ),
        (
            "[setups]\nafter = 13",
            "setups.after: found 13; allowed is a table. Write [setups.after] on a line of its own, and its "
            "keys below.",
        ),
        ("name = 350", f"name: found 350; allowed is text in quotation marks. {FIX}"),
        (
            "[engine]\ncylinders = 0",
            f"engine.cylinders: found 0; allowed are whole numbers from 1 to 12 (cylinders). {FIX}",
        ),
        ("[engine]\nstrokes = 3", f"engine.strokes: found 3; allowed is 2 or 4. {FIX}"),
        (
            "[engine]\nlimit_rpm = 105",
            f"engine.limit_rpm: found 105; allowed are numbers from 1000 to 30000 rev/min. {FIX}",
        ),
        (
            "[engine]\nlimit_rpm = nan",
            f"engine.limit_rpm: found NaN; allowed are numbers from 1000 to 30000 rev/min. {FIX}",
        ),
        (
            "[final_drive]\nfront = 0",
            f"final_drive.front: found 0; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            "[final_drive]\nrear = -43",
            f"final_drive.rear: found -43; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            "[final_drive]\nfront = 14.5",
            f"final_drive.front: found 14.5; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            '[final_drive]\nfront = "14"',
            f'final_drive.front: found "14"; allowed are whole numbers from 3 to 200 (teeth). {FIX}',
        ),
        (
            "[final_drive]\nfront = true",
            f"final_drive.front: found true; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            "[final_drive]\nfront = inf",
            f"final_drive.front: found Infinity; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            "[setups.after]\nfront = 201",
            f"setups.after.front: found 201; allowed are whole numbers from 3 to 200 (teeth). {FIX}",
        ),
        (
            "[final_drive]\nfront = 43\nrear = 14",
            "final_drive: found front = 43 and rear = 14; allowed is a wheel sprocket (rear) with at least as "
            f"many teeth as the gearbox sprocket (front). {FIX}",
        ),
        (
            '[final_drive]\nkind = "rope"',
            f'final_drive.kind: found "rope"; allowed is "chain" or "belt" or "shaft". {FIX}',
        ),
        (
            '[final_drive]\nkind = "shaft"\nchain = "520"',
            f'final_drive: found kind = "shaft" with a chain; allowed is one of the two. {FIX}',
        ),
        (
            '[final_drive]\nchain = "540"',
            'final_drive.chain: found "540"; allowed are the codes 415, 420, 428, 520, 525, 530, 532, 630; '
            f"for another chain leave it out and give pitch_mm. {FIX}",
        ),
        (
            '[final_drive]\nchain = "520"\npitch_mm = 12.7',
            'final_drive: found chain = "520", whose pitch is 15.875 mm, with pitch_mm = 12.7; allowed is one '
            f"of the two, or both alike. {FIX}",
        ),
        (
            "[final_drive]\nlinks = 11",
            f"final_drive.links: found 11; allowed are whole numbers from 20 to 250 (links). {FIX}",
        ),
        (
            "[final_drive]\nslack_mm = [45, 35]",
            "final_drive.slack_mm: found [45, 35]; allowed are two numbers from 0 to 200 mm, the smaller one "
            f"first, such as [20, 30]. {FIX}",
        ),
        (
            "[final_drive]\nslack_mm = 35",
            "final_drive.slack_mm: found 35; allowed are two numbers from 0 to 200 mm, the smaller one "
            f"first, such as [20, 30]. {FIX}",
        ),
        (
            '[final_drive]\nslack_mm = [35, "45"]',
            'final_drive.slack_mm: found [35, "45"]; allowed are two numbers from 0 to 200 mm, the smaller one '
            f"first, such as [20, 30]. {FIX}",
        ),
        (
            "[final_drive]\nadjuster_mm = [0, 25]\naxle_at_mm = 30",
            "final_drive: found axle_at_mm = 30; allowed is a place on the adjuster, 0 to 25 mm. " + FIX,
        ),
        (
            "[gearbox]\ngears = [2.7, 1.8, 1.9]",
            "gearbox.gears: found gear 3 with ratio 1.9 after gear 2 with 1.8; allowed are ratios that become "
            f"smaller from gear to gear, first gear first, each driven/driving. {FIX}",
        ),
        (
            "[gearbox]\ngears = []",
            "gearbox.gears: found []; allowed is a list of 1 to 10 ratios, first gear first, such as "
            f'["35/13", "31/17", 1.43]. {FIX}',
        ),
        (
            '[gearbox]\ngears = ["35/13", "31/0"]',
            'gearbox.gears: found "31/0"; allowed are driven/driving teeth as text such as "74/25" (3 to 200 '
            f"teeth each), or a number, with a ratio from 0.3 to 8. {FIX}",
        ),
        (
            '[gearbox]\nprimary = "25/74"',
            'gearbox.primary: found "25/74"; allowed are driven/driving teeth as text such as "74/25" (3 to '
            f"200 teeth each), or a number, with a ratio from 0.5 to 10. {FIX}",
        ),
        (
            '[gearbox]\nprimary = "74.5/25"',
            'gearbox.primary: found "74.5/25"; allowed are driven/driving teeth as text such as "74/25" (3 to '
            f"200 teeth each), or a number, with a ratio from 0.5 to 10. {FIX}",
        ),
        (
            "[gearbox]\nprimary = -2.96",
            'gearbox.primary: found -2.96; allowed are driven/driving teeth as text such as "74/25" (3 to 200 '
            f"teeth each), or a number, with a ratio from 0.5 to 10. {FIX}",
        ),
        (
            '[tyre]\nsize = "big one"',
            "tyre.size: 'big one' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, "
            f"4.00-18. {FIX}",
        ),
        (
            "[tyre]\nrolling_circumference_mm = 1.96",
            f"tyre.rolling_circumference_mm: found 1.96; allowed are numbers from 500 to 4000 mm. {FIX}",
        ),
        (
            '[tyre]\nsize = "140/70-17"\nrolling_circumference_mm = 640',
            "tyre: found rolling_circumference_mm = 640, but size 140/70-17 leads one to expect about 1944 mm; "
            f"allowed is a difference of 15%. {FIX}",
        ),
        (
            "[tyre]\nrolling_circumference_sd_mm = 5",
            "tyre: found rolling_circumference_sd_mm alone; allowed is only with rolling_circumference_mm. " + FIX,
        ),
        (
            '[speedometer]\ndriven_from = "the wheel"',
            'speedometer.driven_from: found "the wheel"; allowed is "front wheel" or "rear wheel" or "gearbox '
            f'output" or "unknown". {FIX}',
        ),
        (
            '[speedometer]\nregulation = "R39"',
            'speedometer.regulation: found "R39"; allowed is "UNECE R39" or "49 CFR 393.82" or "none". ' + FIX,
        ),
        (
            "[speedometer]\nindicated_step_kmh = 0",
            f"speedometer.indicated_step_kmh: found 0; allowed are numbers from 0.01 to 20 km/h. {FIX}",
        ),
        (
            "[speedometer]\nindicated_step_kmh = 5\nindicated_step_mph = 5",
            "speedometer: found indicated_step_kmh and indicated_step_mph; allowed is one of the two, in the unit of "
            f"the dash. {FIX}",
        ),
        (
            "[motion]\ndrag_area_m2 = 5.5",
            f"motion.drag_area_m2: found 5.5; allowed are numbers from 0.1 to 2 m2. {FIX}",
        ),
        (
            "[motion]\nrolling_coefficient = 1.6",
            "motion.rolling_coefficient: found 1.6; allowed are numbers from 0.002 to 0.1 (share of the weight). "
            + FIX,
        ),
        (
            "[motion]\ntyre_grip = '1'",
            'motion.tyre_grip: found "1"; allowed are numbers from 0.2 to 2 (thrust over load of the tyre). ' + FIX,
        ),
        (
            "[mass]\ntotal_kg = 200\n[motion]\nrotating_kg = 50",
            f"motion.rotating_kg: found 50 with total_kg = 200; allowed are up to 20 % of the whole mass. {FIX}",
        ),
        (
            "[motion]\nrotating = 9",
            "motion.rotating: unknown key (did you mean 'rotating_kg'?); allowed are drag_area_m2, "
            "rolling_coefficient, rotating_kg, tyre_grip. Correct the spelling or remove the key.",
        ),
        (
            "[mass]\ntotal_kg = 0",
            f"mass.total_kg: found 0; allowed are numbers from 20 to 2000 kg. {FIX}",
        ),
        (
            '[setups."a/b"]\nfront = 13',
            'setups.a/b: found "a/b"; allowed are names of at most 60 letters, digits, spaces and . _ + - that '
            "can be file names (not 'report', which is the folder of the results). Rename the setup and its folder.",
        ),
        (
            "[setups.Before]\n[setups.before]",
            "setups.before: found two names that differ only in capitals; allowed are names that differ in "
            "more. Rename one setup and its folder.",
        ),
    ],
)
def test_message(tmp_path: Path, text: str, expected: str) -> None:
    assert message(tmp_path, text) == f"bike.toml, {expected}"


@pytest.mark.parametrize("name", ["report", "CON", "..", ".hidden", "end.", "end ", "", "a\\u0000b", "x" * 61, "a:b"])
def test_names_that_cannot_be_file_names(tmp_path: Path, name: str) -> None:
    assert "that can be file names" in message(tmp_path, f'[setups."{name}"]\nfront = 13')


def test_an_override_that_contradicts_the_machine_names_the_setup(tmp_path: Path) -> None:
    text = '[tyre]\nsize = "140/70-17"\n[setups.after]\nrolling_circumference_mm = 3000'
    assert message(tmp_path, text) == (
        "bike.toml, setups.after: found rolling_circumference_mm = 3000, but size 140/70-17 leads one to expect about "
        f"1944 mm; allowed is a difference of 15%. {FIX}"
    )


def test_syntax_error_names_the_line(tmp_path: Path) -> None:
    assert message(tmp_path, "[engine]\ncylinders = two\n") == (
        "bike.toml: is not valid TOML: invalid value (at line 2, column 13). "
        'Write lines such as front = 14 or name = "my bike", below [table] lines.'
    )


def test_deep_nesting_and_giant_numbers_are_refused(tmp_path: Path) -> None:
    for text in ("a = " + "[" * 100_000, "a = " + "9" * 10_000):
        assert message(tmp_path, text).startswith("bike.toml: is not valid TOML: ")


def test_not_utf8_names_the_line(tmp_path: Path) -> None:
    assert message(tmp_path, '# one\nname = "Bär"\n'.encode("latin-1")) == (
        "bike.toml, line 2: is not UTF-8 text. Save the file again with encoding UTF-8."
    )


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(BikeFileError) as caught:
        read_bike(tmp_path / "bike.toml")
    assert str(caught.value) == "bike.toml: cannot be opened (No such file or directory). Check the path."


def test_long_values_are_shortened(tmp_path: Path) -> None:
    assert message(tmp_path, f'[final_drive]\nkind = "{"x" * 500}"') == (
        f'bike.toml, final_drive.kind: found "{"x" * 56}...; allowed is "chain" or "belt" or "shaft". {FIX}'
    )


def test_every_rule_refuses_a_table_and_a_date(tmp_path: Path) -> None:
    for table, rules in RULES.items():
        for key in rules:
            for value in ("{ a = 1 }", "2020-05-17"):
                text = f"[{table}]\n{key} = {value}" if table else f"{key} = {value}"
                assert message(tmp_path, text).startswith(f"bike.toml, {table}.{key}: ".replace(" .", " "))


def test_recorders_started_together(tmp_path: Path) -> None:
    """For all setups, for one, and for one that is not listed."""
    bike = bike_from(tmp_path, "same_clock = true\n[setups.before]\n[setups.after]\nsame_clock = false")
    assert [bike.setup(name).same_clock for name in ("before", "after", "third")] == [True, False, True]
    assert not bike_from(tmp_path, "[setups.before]").setup("before").same_clock
    assert "same_clock: found 1; allowed is true or false." in message(tmp_path, "same_clock = 1")
