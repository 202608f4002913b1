"""The same chain on another pair: axle, slack, adjuster, links, wear."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.prediction.chain_fit import WearPattern, chain_fit, excess_m, slack_m, wear_pattern
from tests.prediction.machines import DRIVE

PITCH_MM = 15.875


# The handbook relation L = 2 C + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 / C, differentiated by hand: one tooth less at the
# front moves the axle by (1/4 - (z2 - z1)/(4 pi^2 C)) pitches, one more at the rear by (1/4 + ...); here z2 - z1 = 29.5
# in the mean and C = 41.5, so the correction is 0.018 pitches. Common practice, no source: near 4 mm on a 520 chain,
# and one tooth less at the front takes the wheel back.
@pytest.mark.parametrize(("pair", "pitches"), [((13, 43), 0.25 - 0.018), ((14, 44), -(0.25 + 0.018))])
def test_one_tooth_moves_the_axle_by_about_a_quarter_of_a_pitch(pair: tuple[int, int], pitches: float) -> None:
    fit = chain_fit(DRIVE, pair)
    assert fit is not None
    assert 1000 * fit.axle_movement_m == pytest.approx(PITCH_MM * pitches, abs=0.05)
    assert abs(1000 * fit.axle_movement_m) == pytest.approx(4.0, abs=0.4)


def test_one_tooth_less_at_the_front_leaves_more_slack_and_one_more_takes_it() -> None:
    less, more = chain_fit(DRIVE, (13, 43)), chain_fit(DRIVE, (15, 43))
    assert less is not None
    assert more is not None
    assert less.slack_m == pytest.approx(0.040)
    assert less.unmoved_slack_m is not None
    assert less.unmoved_slack_m > 2 * less.slack_m
    assert more.unmoved_slack_m is None
    assert more.axle_movement_m < 0 < less.axle_movement_m


def test_the_same_pair_changes_nothing() -> None:
    fit = chain_fit(DRIVE, (14, 43))
    assert fit is not None
    assert fit.axle_movement_m == 0
    assert fit.unmoved_slack_m == pytest.approx(0.040, abs=2e-4)
    assert fit.links_at_old_centre == pytest.approx(112, abs=0.1)
    assert fit.handbook_links_at_old_centre == pytest.approx(fit.links_at_old_centre, abs=0.01)
    assert (fit.reaches, fit.links_to_add, fit.axle_after_mm) == (True, 0, 11.0)


# A triangle of 3, 4 and 5: half a run of 4 pulled up or down by 3 becomes 5.
def test_slack_of_a_run_that_is_too_long() -> None:
    assert excess_m(3.0, 4.0) == pytest.approx(1.0)
    assert slack_m(1.0, 4.0) == pytest.approx(3.0)


# Two links are one pitch of axle travel, less a little: the chain wraps the same teeth.
def test_links_come_out_where_the_adjuster_ends() -> None:
    fit = chain_fit(replace(DRIVE, axle_at_mm=24.0), (13, 43))
    assert fit is not None
    assert fit.reaches is False
    assert fit.adjuster_left_mm == pytest.approx((27.7, -2.7), abs=0.1)
    assert fit.links_to_add == -2
    assert fit.axle_with_links_mm == pytest.approx(27.7 - PITCH_MM, abs=0.3)


def test_links_go_in_where_the_axle_would_be_too_far_forward() -> None:
    fit = chain_fit(replace(DRIVE, axle_at_mm=1.0), (14, 46))
    assert fit is not None
    assert fit.links_to_add == 2


def test_an_adjuster_that_no_number_of_links_helps() -> None:
    fit = chain_fit(replace(DRIVE, adjuster_mm=(10.0, 12.0)), (13, 43))
    assert fit is not None
    assert (fit.reaches, fit.links_to_add, fit.axle_with_links_mm) == (False, None, None)


def test_what_is_not_stated_is_not_told() -> None:
    bare = replace(DRIVE, adjuster_mm=None, axle_at_mm=None, slack_mm=None)
    fit = chain_fit(bare, (13, 43))
    assert fit is not None
    assert (fit.reaches, fit.axle_after_mm, fit.links_to_add, fit.slack_m) == (None, None, None, 0.0)
    assert fit.now.centre_m == pytest.approx(fit.now.handbook_centre_m, abs=2e-5)
    for drive in (replace(DRIVE, links=None), replace(DRIVE, pitch_mm=None), replace(DRIVE, kind="belt")):
        assert chain_fit(drive, (13, 43)) is None


# Touching sprockets by hand: r = 2.247 and 30.24 pitches, sin(b) = 0.8617, b = 1.0385; 32.97 + 2.37 + 157.81 = 193.15.
def test_a_chain_that_does_not_go_round() -> None:
    with pytest.raises(ValueError) as caught:
        chain_fit(replace(DRIVE, links=112), (14, 190))
    assert str(caught.value) == "found 112 links round 14 and 190 teeth; allowed are more than 193.2 links"


@pytest.mark.parametrize(("front", "rear", "links"), [(14, 43, 112), (13, 42, 112), (15, 45, 110), (16, 40, 108)])
def test_wear_pattern_by_counting(front: int, rear: int, links: int) -> None:
    def turns(teeth: int) -> int:
        passed = teeth
        while passed % links:
            passed += teeth
        return passed // teeth

    found = wear_pattern(front, rear, links)
    assert (found.front_turns, found.rear_turns) == (turns(front), turns(rear))
    assert isinstance(found, WearPattern)
    assert links // found.front_factor == len({tooth % links for tooth in range(0, front * links, front)})
    assert links // found.rear_factor == len({tooth % links for tooth in range(0, rear * links, rear)})
