"""What the sections of a prediction say, whole sentences, where the machine is stated in part."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.machine.bike import Balance, Bike, Engine, FinalDrive, Motion
from gearfit.prediction.basis import FROM_RIDE, FROM_TEETH, on_paper
from gearfit.prediction.swap import SwapPrediction, predict, refitted
from gearfit.wording.chain_text import chain_lines
from gearfit.wording.climb_text import climb_lines
from gearfit.wording.columns import bullets, section, table
from gearfit.wording.swap_text import prediction_lines
from gearfit.wording.tyre_text import tyre_lines
from tests.prediction.machines import BIKE, DRIVE, SETUP, TYRE


def swapped(drive: FinalDrive = DRIVE, *, front: int = 14, rear: int = 43, bike: Bike = BIKE) -> SwapPrediction:
    now = on_paper(bike, replace(SETUP, final_drive=drive), "bike.toml")
    return predict(bike, now, refitted(now, replace(drive, front=front, rear=rear), TYRE))


def said(prediction: SwapPrediction) -> str:
    return " ".join(" ".join(chain_lines(prediction)).split())


# Two links move the axle by 1/cos(b) pitches, by hand 15.97 mm with sin(b) = (6.85 - 2.25)/41.5.
@pytest.mark.parametrize(
    ("drive", "front", "sentence"),
    [
        (
            replace(DRIVE, links=None),
            13,
            "1 tooth fewer in all: with the same chain the axle moves backwards by about 4 mm (a quarter of a pitch a "
            "tooth, 4 mm on a 520 chain). Slack and links need chain (or pitch_mm), links, front and rear in "
            "bike.toml.",
        ),
        (
            replace(DRIVE, adjuster_mm=(10.0, 12.0)),
            13,
            "The adjuster cannot reach (2.7 mm beyond its rear end), and no even number of links helps: choose another "
            "pair.",
        ),
        (
            replace(DRIVE, axle_at_mm=24.0),
            13,
            "The adjuster cannot reach (2.7 mm beyond its rear end). Remove 2 links: the axle then comes to 11.7 mm.",
        ),
        (
            replace(DRIVE, axle_at_mm=2.0),
            15,
            "The adjuster cannot reach (1.7 mm beyond its front end). Add 2 links: the axle then comes to 14.3 mm.",
        ),
        (
            replace(DRIVE, adjuster_mm=None),
            13,
            "Whether the adjuster reaches cannot be told: state adjuster_mm and axle_at_mm (0 is its front end).",
        ),
        (
            replace(DRIVE, slack_mm=None),
            15,
            "Now set for no slack (none is stated); the new pair does not go on before the axle is moved forwards.",
        ),
        (DRIVE, 16, "each tooth meets only every 16th link and wear is less even; none shared is better."),
        (
            DRIVE,
            13,
            "13 teeth at the front: chain makers' general notes ask for at least 15; fewer run rougher and wear chain, "
            "sprocket and guide faster.",
        ),
        (
            DRIVE,
            13,
            "The machine's manual decides: slack, where and how it is measured, torque and alignment.",
        ),
    ],
)
def test_chain(drive: FinalDrive, front: int, sentence: str) -> None:
    assert sentence in said(swapped(drive, front=front))


def test_other_drives_and_other_swaps_say_nothing_of_a_chain() -> None:
    belt = replace(DRIVE, kind="belt", chain=None, links=None)
    assert said(swapped(belt, front=13)) == "Final drive by belt: nothing is said about chain and axle."
    assert chain_lines(swapped()) == []


def test_tyre_is_explained_only_where_a_size_is_stated() -> None:
    assert tyre_lines(on_paper(BIKE, SETUP, "bike.toml"), None) == []


def test_climb_says_what_it_cannot_tell() -> None:
    without_torque = " ".join(" ".join(climb_lines(swapped(bike=replace(BIKE, engine=Engine())))).split())
    assert "Thrust and grade cannot be told: state torque_nm." in without_torque
    without_balance = " ".join(" ".join(climb_lines(swapped(bike=replace(BIKE, balance=Balance())))).split())
    assert "Whether the front wheel lifts cannot be told: state cg_height_mm and cg_to_rear_mm." in without_balance
    assert "it is no advice to try" in without_balance
    assert climb_lines(swapped(bike=replace(BIKE, total_kg=None))) == []


def test_climb_names_its_cap_and_what_rules_it() -> None:
    """Grip 1.0 taken: (1410 - 690) / (1410 - 640) = 93.5 %; front wheel 690/640 = 107.8 %."""
    text = " ".join(" ".join(climb_lines(swapped(bike=replace(BIKE, engine=Engine(torque_nm=90.0))))).split())
    assert (
        "No thrust climbs steeper than 94 %: there the grip of the driven tyre rules (tyre_grip 1, thrust over load; 1 "
        "is taken for dry road where none is stated)." in text
    )
    assert "any" not in text.split("No thrust")[0].split()
    sticky = swapped(bike=replace(BIKE, motion=Motion(tyre_grip=1.5)))
    assert "No thrust climbs steeper than 108 %: there the front wheel rules" in " ".join(climb_lines(sticky))


@pytest.mark.parametrize(
    ("filled", "words"),
    [
        ((2,), "; gear 2 was not ridden and rests on its teeth."),
        ((2, 5), "; gears 2, 5 were not ridden and rest on their teeth."),
    ],
)
def test_gears_that_were_not_ridden_are_counted(filled: tuple[int, ...], words: str) -> None:
    now = on_paper(BIKE, SETUP, "bike.toml")
    known = tuple(FROM_TEETH if gear in filled else FROM_RIDE for gear in now.gears)
    lines = prediction_lines(predict(BIKE, replace(now, known_from=known), None), "kmh")
    assert words in " ".join(" ".join(lines).split())


def test_cautions_close_every_prediction() -> None:
    text = " ".join(" ".join(prediction_lines(swapped(front=13), "kmh")).split())
    for words in (
        "The machine's manual decides on torque, slack, alignment",
        "licensed practice and local law",
        "legal speed",
    ):
        assert words in text


def test_a_table_sets_words_left_and_numbers_right() -> None:
    lines = table(["pair", "mm", "look at"], [["13/43", "3.7", "sharp bend"], ["9/43", "13.7", "–"]], words_last=True)
    assert lines == ["  pair      mm   look at", "  13/43    3.7   sharp bend", "  9/43    13.7   –"]


def test_an_empty_section_is_left_out() -> None:
    assert section("Title", [], []) == []
    assert section("Title", bullets(["One."])) == ["", "TITLE", "  - One."]
