"""Readings without a noted gear get the number that all setups together speak for, or none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gearfit.fitting.which_gear.numbering import SURE, Unplaced, clusters, number

#: Steps of an invented six-speed gearbox, narrower towards the top.
LADDER = np.log(np.array([2.6, 1.85, 1.45, 1.22, 1.07, 0.96]))
SHIFT = 4.2
#: A front sprocket of 14 instead of 15 teeth.
CHANGE = float(np.log(14 / 15))


def shown(gears: list[int], moved: float = 0.0, *, noted: bool = False, teeth: bool = False) -> Unplaced:
    at = np.array(gears, dtype=np.int64) - 1
    return Unplaced(
        log_ratio=LADDER[at] + SHIFT - moved,
        sd=np.full(at.size, 0.004),
        gear=at + 1 if noted else np.zeros(at.size, dtype=np.int64),
        ladder=LADDER - moved if teeth else None,
        expected=SHIFT if teeth else None,
        log_change=None,
    )


ALL = [1, 2, 3, 4, 5, 6]


def test_one_gear_after_six_before_is_numbered_by_the_stated_teeth() -> None:
    for gear in ALL:
        after = replace(shown([gear], CHANGE), log_change=CHANGE)
        found = number([replace(shown(ALL), log_change=0.0), after])
        assert found[1].gear.tolist() == [gear]
        assert found[1].change_log_odds > SURE


def test_one_gear_after_six_before_is_not_numbered_without_teeth() -> None:
    """Fifth at 14 teeth lies between fifth and fourth of before: either may be it."""
    found = number([shown(ALL), shown([5], CHANGE)])
    assert found[1].change_log_odds < SURE


def test_six_against_six_need_no_teeth() -> None:
    found = number([shown(ALL), shown(ALL, CHANGE)])
    assert [f.gear.tolist() for f in found] == [ALL, ALL]
    assert found[1].change_log_odds > SURE


def test_upper_gears_alone_are_numbered_by_their_steps_next_to_the_other_setup() -> None:
    found = number([shown(ALL), shown([3, 4, 5, 6], CHANGE)])
    assert found[1].gear.tolist() == [3, 4, 5, 6]


def test_noted_gears_of_one_setup_number_the_other() -> None:
    found = number([shown([3, 4, 5, 6], noted=True), replace(shown([3, 4, 5, 6], CHANGE), log_change=CHANGE)])
    assert found[1].gear.tolist() == [3, 4, 5, 6]
    assert found[1].change_log_odds > SURE


def test_the_ladder_numbers_both_where_it_is_expected() -> None:
    found = number([shown([4, 5], teeth=True), replace(shown([4, 5], CHANGE, teeth=True), log_change=CHANGE)])
    assert [f.gear.tolist() for f in found] == [[4, 5], [4, 5]]
    assert min(f.log_odds for f in found) > SURE


def test_a_ladder_without_a_tyre_leaves_two_gears_open_but_not_their_change() -> None:
    """The steps 1.85/1.45 and 1.45/1.22 are told apart; that of one gear alone is not."""
    before = replace(shown([3], teeth=True), expected=None, log_change=0.0)
    after = replace(shown([3], CHANGE, teeth=True), expected=None, log_change=CHANGE)
    found = number([before, after])
    assert found[0].log_odds < SURE
    assert found[0].gear.tolist() == found[1].gear.tolist()
    assert found[1].change_log_odds > SURE


def test_noted_gears_stay_as_they_are() -> None:
    wrong = shown(ALL, noted=True)
    assert number([wrong])[0].gear.tolist() == ALL
    some = replace(wrong, gear=np.array([0, 2, 0, 4, 5, 6]))
    assert number([some, wrong])[0].gear.tolist() == ALL


def test_no_reading_at_all() -> None:
    nothing = shown([])
    assert [f.gear.size for f in number([nothing, nothing])] == [0, 0]
    assert number([shown(ALL), nothing])[1].gear.size == 0


def test_groups_are_counted_from_the_lowest_gear() -> None:
    values = np.array([5.0, 5.3, 5.31, 4.8, 4.81, 5.29])
    assert clusters(values, np.full(6, 0.004)).tolist() == [2, 1, 1, 3, 3, 1]
    assert clusters(np.empty(0), np.empty(0)).size == 0


def test_a_lone_gear_in_both_setups_need_not_be_the_same() -> None:
    """Fifth before and sixth after look like a change of 10 % of one gear: nobody said which they are."""
    assert number([shown([5]), shown([6], CHANGE)])[1].change_log_odds < SURE
    stated = number([replace(shown([5]), log_change=0.0), replace(shown([5], CHANGE), log_change=CHANGE)])
    assert stated[1].change_log_odds > SURE, "as the teeth say it is the same"


def test_readings_too_coarse_for_steps_get_no_gear() -> None:
    coarse = replace(shown(ALL), sd=np.full(6, 0.06))
    found = number([coarse, replace(coarse, log_ratio=coarse.log_ratio - CHANGE)])
    assert [f.gear.tolist() for f in found] == [[0] * 6, [0] * 6]
