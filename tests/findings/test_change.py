"""How far the gears moved, in words: never more than the interval allows."""

from __future__ import annotations

import pytest

from gearfit.findings.words import fell_or_rose, gear_list, gear_name, points_apart
from gearfit.records.results import Estimate
from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh, without_intervals

CAUSES = (
    "What moves all gears together: other teeth than stated (count "
    "them on the sprocket), the tyre (6 mm of tread on a 640 mm wheel is 1.9 %; another make of the same size can be "
    "2-3 %; pressure and load, some tenths of a per cent), or the tachometer, if its scale changed between the rides "
    "or it was off by the same number in one of them. A clutch of before that slips under load makes upper gears look "
    "shorter as well: take the same gears at light load before any part is blamed."
)
HEAD = "At the same engine speed, road speed fell from before (16/43) to after (15/43): "


def test_measured_and_predicted_agree(analyse: Analyse) -> None:
    found = analyse(
        {"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(speeds_kmh(15))}
    )
    said = only(found, "change-agrees")
    assert said.severity == "note"
    assert without_intervals(said.text) == (
        f"{HEAD}−6.2 % (...) in gears 1–6; the teeth predict −6.2 %. Measured and predicted agree."
    )
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(-6.25)
    assert only(found, "speeds-at-rpm").text == (
        "At 5000 rpm that is 34.3 km/h to 32.2 km/h in first gear and 91.1 km/h to 85.4 km/h in sixth gear: a change "
        "of gearing moves every gear by the same factor, never by the same number."
    )
    assert set(codes(found)) == {"change-agrees", "speeds-at-rpm", "circumference", "no-timed-runs"}


def test_no_sprockets_stated(analyse: Analyse) -> None:
    found = analyse({"before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(speeds_kmh(15))})
    assert without_intervals(only(found, "change-measured").text) == (
        "At the same engine speed, road speed fell from before to after: −6.2 % (...), the same factor in gears 1–6. "
        "Nothing is predicted, because bike.toml does not state the sprockets of both setups."
    )
    assert only(found, "front-sprocket-guess").text.startswith("A front sprocket changed from ")
    assert "16 to 15" in only(found, "front-sprocket-guess").text
    only(found, "no-bike-file")


def test_too_coarse_to_tell_a_change_from_none(analyse: Analyse) -> None:
    """10 mph before and after, read to 1 mph: no change may be true, and one of -6.2 % as well."""
    found = analyse(
        {
            "bike.toml": "[final_drive]\nrear = 43\n" + SETUPS,
            "before/a.csv": sheet([10], speed="speed_mph"),
            "after/b.csv": sheet([10], speed="speed_mph"),
        }
    )
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(0)
    assert change.contains(-6.25)
    said = only(found, "change-undecided")
    assert said.severity == "warning"
    assert without_intervals(said.text).startswith(
        "From before to after these readings cannot tell what changed: "
        "road speed at the same engine speed moved by 0 % "
    )


def test_all_gears_off_together(analyse: Analyse) -> None:
    """A tyre 3 % larger went on together with the sprocket: tyre and tachometer are named with their sizes."""
    after = speeds_kmh(15, circumference_m=2.06)
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(after)})
    said = only(found, "change-disagrees")
    assert said.severity == "warning"
    assert without_intervals(said.text) == (
        "All 6 gears moved alike, but not as the teeth say: road speed at the same engine speed fell from before "
        f"(16/43) to after (15/43): −3.4 % (...); the teeth predict −6.2 %, 2.8 percentage points apart. {CAUSES}"
    )
    assert only(found, "tooth-pairs").text.startswith("Another tyre of the same size (1–2 %), wear (1–2 %) or pressure")
    assert all(gear.consistent for gear in found.comparisons[0].gears), "they agree with each other"


def test_a_sprocket_two_teeth_smaller_than_stated(analyse: Analyse) -> None:
    found = analyse(
        {"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(speeds_kmh(14))}
    )
    only(found, "change-disagrees")
    pairs = only(found, "tooth-pairs").text
    # 15/14 is 7.1 % more
    assert pairs == (
        "The rides fit 16/43 in before and 14/43 in after better than the stated 16/43 and 15/43: count the teeth in "
        "after, where the statement is off by 7 %."
    )


def test_a_speedometer_that_cannot_see_the_swap(analyse: Analyse) -> None:
    dash = sheet(speeds_kmh(16), speed="indicated_kmh")
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": dash, "after/b.csv": dash})
    said = only(found, "speedometer-gearbox-driven")
    assert said.severity == "warning"
    assert without_intervals(said.text) == (
        "At the same engine speed, road speed moved from before (16/43) to after (15/43): 0.0 % (...) in gears 1–6; "
        "the teeth predict −6.2 %. These are speedometer readings, and the instrument shows the same at the same "
        "engine speed as before: that is how a speedometer driven from the gearbox behaves, which cannot see the final "
        "drive at all. The swap is not shown to have failed; measure road speed with a satellite receiver to see it."
    )
    assert not {"change-disagrees", "tooth-pairs", "speeds-at-rpm", "circumference"} & set(codes(found))
    assert all(result.circumference is None for result in found.setups)


def test_a_speedometer_that_sees_the_swap(analyse: Analyse) -> None:
    found = analyse(
        {
            "bike.toml": BIKE + SETUPS,
            "before/a.csv": sheet([1.05 * v for v in speeds_kmh(16)], speed="indicated_kmh"),
            "after/b.csv": sheet([1.05 * v for v in speeds_kmh(15)], speed="indicated_kmh"),
        }
    )
    only(found, "change-agrees")
    texts = [finding.text for finding in found.findings if finding.code == "speedometer-only"]
    assert texts == [
        f"{name}: the speeds are what the speedometer showed (driven from: unknown). Driven from a wheel, its error "
        "cancels in the change between setups but not in circumference or ratios, which are not given here. Driven "
        "from the gearbox, it cannot see the final drive at all. Readings from a satellite receiver say more."
        for name in ("before", "after")
    ]


def test_a_speedometer_against_a_receiver(analyse: Analyse) -> None:
    """The error of the instrument does not cancel then, and is not said to."""
    found = analyse(
        {
            "bike.toml": BIKE + SETUPS,
            "before/a.csv": sheet(speeds_kmh(16), speed="indicated_kmh"),
            "after/b.csv": sheet(speeds_kmh(15)),
        }
    )
    assert only(found, "speedometer-only").text == (
        "before: the speeds are what the speedometer showed (driven from: unknown). Its error does not cancel against "
        "a setup whose speeds were measured: the change between the setups holds all of it. Driven from the gearbox, "
        "it cannot see the final drive at all. Readings from a satellite receiver say more."
    )


def test_no_gear_in_common(analyse: Analyse) -> None:
    found = analyse({"before/a.csv": sheet([30, 45]), "after/b.csv": "gear,rpm,speed_kmh\n4,5000,70\n"})
    assert only(found, "no-common-gear").text == (
        "No gear was found in both before and after, so their gearing cannot be compared: ride or note the same gears "
        "in both."
    )


@pytest.mark.parametrize(
    ("gears", "text"),
    [([3], "third gear"), ([1, 2, 3], "gears 1–3"), ([1, 3, 4, 6], "gears 1, 3–4 and 6"), ([9], "gear 9")],
)
def test_gear_list(gears: list[int], text: str) -> None:
    assert gear_list(gears) == text


def test_gear_name_and_verb() -> None:
    assert (gear_name(1), gear_name(8), gear_name(9)) == ("first gear", "eighth gear", "gear 9")
    assert [fell_or_rose(amount) for amount in (-1, 0, 1)] == ["fell", "moved", "rose"]


def test_two_percentages_lie_percentage_points_apart() -> None:
    """From −6.2 to −3.4 % are 2.8 percentage points; 2.8 % of either would be under 0.2."""
    e = Estimate(-6.2, 0.05, -6.3, -6.1)
    assert points_apart(-3.4 - -6.2, e) == "2.80 percentage points apart"
    assert points_apart(-6.2 - -3.4, e) == "2.80 percentage points apart"
