"""The whole prediction: what is known from where, and what a swap does to it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.errors import InputError
from gearfit.machine.bike import Bike, FinalDrive, Gearbox, SpeedometerSpec, Tyre, Wish
from gearfit.prediction.basis import FROM_RIDE, FROM_TEETH, on_paper
from gearfit.prediction.instruments import instrument_effects
from gearfit.prediction.swap import predict, refitted
from gearfit.prediction.wishes import answer_wishes, neighbours
from gearfit.units import MPS_PER_KMH
from tests.prediction.machines import BIKE, DRIVE, SETUP, TYRE

NOW = on_paper(BIKE, SETUP, "bike.toml")


def after(front: int = 14, rear: int = 43) -> FinalDrive:
    return replace(DRIVE, front=front, rear=rear)


# By hand: i_6 = 74/25 x 23/26 x 43/14 = 8.0424; 60 i / C = 247.46 rev/min for each m/s, so 100 km/h is 6874 rev/min.
def test_speeds_of_the_invented_machine() -> None:
    found = predict(BIKE, NOW, refitted(NOW, after(front=13), TYRE), cruise_mps=(100 * MPS_PER_KMH,))
    top = found.gears[-1]
    assert top.now_mps == pytest.approx(5000 / 247.46, rel=1e-4)
    assert top.limit_now_mps == pytest.approx(10500 / 247.46, rel=1e-4)
    assert (top.gear, top.step_to_next) == (6, None)
    assert found.gears[0].step_to_next == pytest.approx((35 / 13) / (31 / 17))
    cruise = found.cruise[-1]
    assert cruise.gear == 6
    assert cruise.now_rpm == pytest.approx(6874, abs=1)
    assert cruise.after_rpm == pytest.approx(6874 * 14 / 13, abs=1)


@pytest.mark.parametrize(("front", "rear"), [(13, 43), (15, 43), (14, 45), (13, 40)])
def test_every_gear_moves_by_the_same_factor_and_thrust_by_its_inverse(front: int, rear: int) -> None:
    found = predict(BIKE, NOW, refitted(NOW, after(front, rear), TYRE))
    factor = front * 43 / (14 * rear)
    assert found.change_percent == pytest.approx(100 * (factor - 1))
    assert found.thrust_percent == pytest.approx(100 * (1 / factor - 1))
    for gear in found.gears:
        assert gear.after_mps == pytest.approx(gear.now_mps * factor)


def test_another_tyre_moves_speeds_by_its_circumference() -> None:
    stated = refitted(NOW, DRIVE, Tyre(rolling_circumference_mm=1911.0))
    assert stated.speed_per_1000rpm_mps[0] == pytest.approx(0.98 * NOW.speed_per_1000rpm_mps[0])
    assert stated.circumference_m == pytest.approx(1.911)
    sized = on_paper(replace(BIKE, tyre=Tyre("140/70-17")), replace(SETUP, tyre=Tyre("140/70-17")), "bike.toml")
    other = refitted(sized, DRIVE, Tyre("130/80-17"))
    assert other.speed_per_1000rpm_mps[0] / sized.speed_per_1000rpm_mps[0] == pytest.approx(639.8 / 627.8)
    assert {*sized.known_from} == {FROM_TEETH}


@pytest.mark.parametrize(
    ("driven_from", "expected"),
    [
        ("gearbox output", {"gearbox output": 1 / (0.9 * 0.98) - 1}),
        ("rear wheel", {"rear wheel": 1 / 0.98 - 1}),
        ("front wheel", {"front wheel": 0.0}),
        ("unknown", {"gearbox output": 1 / (0.9 * 0.98) - 1, "rear wheel": 1 / 0.98 - 1, "front wheel": 0.0}),
    ],
)
def test_a_pick_up_feels_only_what_lies_between_it_and_the_road(driven_from: str, expected: dict[str, float]) -> None:
    found = {effect.driven_from: effect.reading_percent for effect in instrument_effects(driven_from, 0.9, 0.98)}
    assert found == pytest.approx({name: 100 * value for name, value in expected.items()})


def test_instruments_of_a_swap_are_those_of_the_stated_pick_up() -> None:
    bike = replace(BIKE, speedometer=SpeedometerSpec("gearbox output"))
    found = predict(bike, NOW, refitted(NOW, after(front=13), TYRE)).instruments
    assert [effect.reading_percent for effect in found] == [pytest.approx(100 * (14 / 13 - 1))]


# By hand: 13/42 against 14/43 is (13 x 43)/(14 x 42) = 0.95068, 14/45 is 43/45 = 0.95556.
def test_pairs_for_a_change() -> None:
    (answer,) = answer_wishes(Wish(change_percent=-5.0), NOW, NOW.speed_per_1000rpm_mps[-1])
    best = answer.pairs[0]
    assert (best.front, best.rear, best.sprockets_changed) == (13, 42, 2)
    assert best.change_percent == pytest.approx(-4.932, abs=5e-4)
    assert best.miss_percent == pytest.approx(0.068, abs=5e-4)
    assert answer.met
    assert (14, 45) in [(pair.front, pair.rear) for pair in answer.pairs]


def test_of_equal_pairs_the_one_with_one_new_sprocket_comes_first() -> None:
    (answer,) = answer_wishes(Wish(change_percent=100 * (13 / 14 - 1)), NOW, NOW.speed_per_1000rpm_mps[-1])
    assert (answer.pairs[0].front, answer.pairs[0].rear) == (13, 43)
    assert abs(answer.pairs[0].miss_percent) < 1e-9


# A cruise of 90 km/h at 5000 rev/min in top gear: 25 m/s needs 5.000 m/s per 1000, NOW has 1000/247.46 = 4.0411.
def test_pairs_for_a_cruise() -> None:
    (answer,) = answer_wishes(Wish(cruise_kmh=90.0, at_rpm=5000.0), NOW, NOW.speed_per_1000rpm_mps[-1])
    assert answer.wanted_percent == pytest.approx(100 * (5.0 / 4.0411 - 1), abs=0.01)
    best = answer.pairs[0]
    top = NOW.speed_per_1000rpm_mps[-1] * best.front * 43 / (14 * best.rear)
    assert top * 5 == pytest.approx(25.0, rel=0.01)


@settings(deadline=None)
@given(wanted=st.floats(-10, 10))
def test_no_pair_within_reach_misses_by_less_than_the_class_of_the_first(wanted: float) -> None:
    (answer,) = answer_wishes(Wish(change_percent=wanted), NOW, NOW.speed_per_1000rpm_mps[-1])
    misses = [
        abs(100 * (f * 43 / (14 * r) - 1) - wanted) for f in range(11, 18) for r in range(37, 50) if (f, r) != (14, 43)
    ]
    assert abs(answer.pairs[0].miss_percent) <= min(misses) + 0.5
    assert answer.met == (min(misses) <= 1.0)


def test_a_wish_that_no_pair_meets_shows_the_nearest() -> None:
    (answer,) = answer_wishes(Wish(change_percent=80.0), NOW, NOW.speed_per_1000rpm_mps[-1])
    assert not answer.met
    assert (answer.pairs[0].front, answer.pairs[0].rear) == (17, 37)


def test_notes_name_cover_guard_and_bend() -> None:
    notes = {(pair.front, pair.rear): pair.notes for pair in neighbours(DRIVE)}
    assert notes[13, 43] == ("sharp bend",)
    assert notes[15, 43] == ("front cover",)
    # pitch diameter grows by about p/pi a tooth: 15.875/pi/2 = 2.53 mm in radius
    assert notes[14, 44] == ("rear guard, +2.5 mm",)
    assert notes[14, 42] == ()
    assert list(notes) == sorted(notes, key=lambda pair: pair[0] / pair[1])


def test_what_is_missing_is_named_all_at_once() -> None:
    with pytest.raises(InputError) as caught:
        on_paper(Bike(final_drive=FinalDrive(rear=43)), Bike(final_drive=FinalDrive(rear=43)).setup("before"), "b.toml")
    assert str(caught.value) == (
        "b.toml: found no [gearbox] primary and no [gearbox] gears and no [final_drive] front and no [tyre] size; "
        "speeds need primary drive, gears, sprockets and tyre. State them (teeth are counted on the sprockets "
        "themselves, not taken from the papers of a used bike), or give the folder of a ride, from which they are "
        "found."
    )


def test_a_swap_from_unknown_sprockets_or_an_unknown_tyre_is_refused() -> None:
    unknown = replace(NOW, final_drive=FinalDrive(), tyre=Tyre(), circumference_m=None)
    with pytest.raises(InputError) as sprockets:
        refitted(unknown, FinalDrive(front=13, rear=43), Tyre())
    assert str(sprockets.value) == (
        "bike.toml, [final_drive]: the sprockets fitted now are not both stated, so the change cannot be told. Count "
        "the teeth on both sprockets (the papers of a used bike may be wrong) and state front and rear."
    )
    with pytest.raises(InputError) as tyre:
        refitted(unknown, FinalDrive(), Tyre("140/70-17"))
    assert str(tyre.value) == (
        "bike.toml, [tyre]: the tyre fitted now is not stated, so the change of tyre cannot be told. State size or "
        "rolling_circumference_mm of the tyre that is on now."
    )


# The machine with 14/43 seen through a ride that knows no sprockets, tyre known to 2 %.
def test_sprockets_that_nobody_counted_are_inferred_from_a_ride() -> None:
    unknown = replace(
        NOW,
        final_drive=FinalDrive(),
        tyre=Tyre("140/70-17"),
        known_from=(FROM_RIDE,) * 6,
        relative_sd=0.002,
        overall_ratios=None,
    )
    found = predict(replace(BIKE, wish=Wish(change_percent=-5.0)), unknown, None)
    assert found.likely_teeth is not None
    assert found.likely_teeth.reduction == pytest.approx(43 / 14, rel=1e-9)
    assert found.likely_teeth.relative_sd == pytest.approx(0.0201, abs=1e-4)
    assert (14, 43) in found.likely_teeth.pairs
    assert found.unanswered_percent == (-5.0,)
    assert found.wishes == ()


def test_stated_sprockets_are_not_inferred() -> None:
    assert predict(BIKE, NOW, None).likely_teeth is None
    assert predict(replace(BIKE, gearbox=Gearbox()), replace(NOW, final_drive=FinalDrive()), None).likely_teeth is None
