"""The machine's own speed is not road speed: what it shows of a swap depends on where it is taken from."""

from __future__ import annotations

import pytest

from gearfit.records.results import Analysis
from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh, without_intervals

MACHINE = "vehicle_speed_kmh"


def folder(
    before: list[float], after: list[float], driven_from: str = "unknown", header: str = MACHINE
) -> dict[str, str]:
    stated = f'[speedometer]\ndriven_from = "{driven_from}"\n'
    return {
        "bike.toml": BIKE + stated + SETUPS,
        "before/a.csv": sheet(before, speed=MACHINE),
        "after/b.csv": sheet(after, speed=header),
    }


def says_to_count(found: Analysis) -> bool:
    return any("count the teeth" in finding.text or "count them" in finding.text for finding in found.findings)


@pytest.mark.parametrize("driven_from", ["unknown", "gearbox output"])
def test_a_pick_up_on_the_gearbox_does_not_see_a_right_swap(analyse: Analyse, driven_from: str) -> None:
    """16 to 15 teeth in front; the computer goes on to reckon with 16, so its readings stay."""
    found = analyse(folder(speeds_kmh(16), speeds_kmh(16), driven_from))
    said = only(found, "speedometer-gearbox-driven")
    assert without_intervals(said.text) == (
        "At the same engine speed, road speed moved from before (16/43) to after (15/43): 0.0 % (...) in gears 1–6; "
        "the teeth predict −6.2 %. These are speeds that the machine itself says, and it says the same at the same "
        "engine speed as before: that is how a speedometer driven from the gearbox behaves, which cannot see the final "
        "drive at all. The swap is not shown to have failed; measure road speed with a satellite receiver to see it."
    )
    assert not {"change-disagrees", "tooth-pairs", "tooth-pairs-of-ride", "circumference"} & set(codes(found))
    assert not says_to_count(found)
    assert found.comparisons[0].sprocket_check is None
    assert all(result.circumference is None for result in found.setups)


def test_readings_that_stay_within_some_tenths_of_a_per_cent(analyse: Analyse) -> None:
    """Tyres warm up differently: 0.1 % more on each gear is no change of teeth either."""
    found = analyse(folder(speeds_kmh(16), [round(1.001 * v, 1) for v in speeds_kmh(16)]))
    only(found, "speedometer-gearbox-driven")
    assert not says_to_count(found)


def test_a_pick_up_stated_at_the_wheel_sees_that_nothing_was_changed(analyse: Analyse) -> None:
    found = analyse(folder(speeds_kmh(16), speeds_kmh(16), "rear wheel"))
    only(found, "change-disagrees")
    assert says_to_count(found)


def test_a_wheel_speed_that_is_high_gives_no_narrow_circumference(analyse: Analyse) -> None:
    """It shows 2 % too much, so the circumference comes out 2 % too large: the interval holds the true 2.000 m."""
    high = [[round(1.02 * v, 1) for v in speeds_kmh(front)] for front in (16, 15)]
    found = analyse(folder(high[0], high[1], "rear wheel"))
    only(found, "change-agrees")
    for result in found.setups:
        assert result.circumference is not None
        size = result.circumference.estimate_m
        assert size.value == pytest.approx(2.04, abs=0.003)
        assert size.contains(2.0)
        # 2.5 % x 1.96 each way
        assert size.hi95 / size.value - 1 == pytest.approx(0.05, abs=0.002)
        assert "the machine's own speed, which may be off by some per cent" in result.circumference.rests_on
        for gear in result.gears:
            assert gear.overall_ratio is not None
            assert gear.overall_ratio.hi95 / gear.overall_ratio.value - 1 > 0.045
    assert {finding.severity for finding in found.findings if finding.code == "machine-speed"} == {"note"}


@pytest.mark.parametrize(("header", "sees"), [(MACHINE, False), ("gps_speed_kmh", True)])
def test_one_ride_whose_teeth_are_not_those_stated(analyse: Analyse, header: str, sees: bool) -> None:
    """Speeds as with 14 teeth in front, 16 stated: a computer that reckons with 14 shows that on 16."""
    stated = "[setups.before]\nfront = 16\n"
    found = analyse({"bike.toml": BIKE + stated, "before/a.csv": sheet(speeds_kmh(14), speed=header)})
    assert says_to_count(found) is sees


def test_where_it_is_taken_from_is_not_known(analyse: Analyse) -> None:
    """It follows the teeth, so it sees them; how large the wheel is it does not say."""
    high = [[round(1.02 * v, 1) for v in speeds_kmh(front)] for front in (16, 15)]
    found = analyse(folder(high[0], high[1]))
    only(found, "change-agrees")
    assert found.comparisons[0].sprocket_check is not None
    assert all(result.circumference is None for result in found.setups)
    assert all(gear.overall_ratio is None for result in found.setups for gear in result.gears)
    texts = [finding.text for finding in found.findings if finding.code == "machine-speed"]
    assert texts == [
        f"{name}: the speeds are the machine's own (vehicle, wheel, OBD or ECU speed; driven from: unknown). They may "
        "be off by some per cent, which cancels in the change between setups but not in circumference or ratios, which "
        "are not given here. Taken from the gearbox, they cannot see the final drive at all: state driven_from under "
        "[speedometer] in bike.toml. Times to a speed are times to what the machine says; runs found in "
        "the ride are compared only where the change follows the teeth. A satellite receiver says more."
        for name in ("before", "after")
    ]


def test_against_a_receiver_its_error_does_not_cancel(analyse: Analyse) -> None:
    found = analyse(folder([round(1.02 * v, 1) for v in speeds_kmh(16)], speeds_kmh(15), header="gps_speed_kmh"))
    said = only(found, "machine-speed")
    assert said.severity == "warning"
    assert said.text.startswith("before: ")
    assert (
        "Against a setup whose speeds were measured their error does not cancel: it is in the interval of the change."
        in said.text
    )
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(-6.25)
    assert 4.5 < change.hi95 - change.value < 5.0  # 2.5 % x 1.96 of a factor of 0.92
    assert all(gear.change_percent.contains(-6.25) for gear in found.comparisons[0].gears)
    assert not says_to_count(found)
    assert only(found, "change-undecided").text.endswith(
        "One setup holds the machine's own speed and the other does not: record both rides in the same way."
    )
    assert found.comparisons[0].sprocket_check is None


def test_a_dash_is_not_judged_by_the_machine_it_belongs_to(analyse: Analyse) -> None:
    """Shown and reckoned from one pick-up: a dash that shows 5 % too much agrees with a computer that does."""
    rows = "".join(f"{3 + k % 3},{4000 + 100 * k},{50 + 5 * k},{50 + 5 * k}\n" for k in range(12))
    found = analyse({"before/a.csv": f"gear,rpm,indicated_kmh,vehicle_speed_kmh\n{rows}"})
    assert found.setups[0].speedometer is None
    receiver = analyse({"before/a.csv": f"gear,rpm,indicated_kmh,gps_speed_kmh\n{rows}"})
    assert receiver.setups[0].speedometer is not None
