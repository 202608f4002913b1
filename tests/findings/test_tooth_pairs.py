"""What is said about sprockets: which fit, which statement is likely wrong, and what else could be the cause."""

from __future__ import annotations

import pytest

from gearfit.records.results import Analysis
from tests.findings.conftest import GEARS, PRIMARY, SETUPS, Analyse, codes, only, sheet, without_intervals

BIKE = f"""
[gearbox]
primary = {PRIMARY}
gears = {list(GEARS)}
[tyre]
rolling_circumference_mm = 2000
"""
ELSE = (
    "Another tyre of the same size (1–2 %), wear (1–2 %) or pressure and load (some tenths of a per cent), or a clutch "
    "that slips under load, could explain the difference of "
)
SHARP = [3000.0, 5000.0, 7000.0]


def speeds(pair: tuple[int, int], rpm: float, circumference_m: float = 2.0) -> list[float]:
    """Speeds as a receiver shows them to 0.1 km/h, v = n C / (60 i)."""
    front, rear = pair
    return [round(rpm * circumference_m / 60 / (PRIMARY * gear * rear / front) * 3.6, 1) for gear in GEARS]


def ride(pair: tuple[int, int], circumference_m: float = 2.0, speed: str = "speed_kmh", scale: float = 1.0) -> str:
    """A sheet of three engine speeds in each gear."""
    parts = [sheet([scale * v for v in speeds(pair, rpm, circumference_m)], rpm=rpm, speed=speed) for rpm in SHARP]
    return parts[0] + "".join(part.partition("\n")[2] for part in parts[1:])


def stated(before: tuple[int, int] | None, after: tuple[int, int] | None = None, more: str = "") -> str:
    said = [
        f"[setups.{name}]\n" + ("" if pair is None else f"front = {pair[0]}\nrear = {pair[1]}\n")
        for name, pair in (("before", before), ("after", after))
    ]
    return BIKE + more + "".join(said)


def two(analyse: Analyse, toml: str, before: str, after: str) -> Analysis:
    return analyse({"bike.toml": toml, "before/a.csv": before, "after/b.csv": after})


def test_a_rightly_stated_change_of_eight_teeth_is_not_accused(analyse: Analyse) -> None:
    found = two(analyse, stated((15, 50), (15, 42)), ride((15, 50)), ride((15, 42)))
    only(found, "change-agrees")
    assert not {"tooth-pairs", "tooth-pairs-none", "tooth-pairs-of-ride"} & set(codes(found))


def test_the_statement_of_the_reference_is_named_as_the_wrong_one(analyse: Analyse) -> None:
    """Papers say 15/45; 14/45 was fitted, then 13/45. ln(15/14) is 6.9 %, 15/14 is 7.1 %."""
    found = two(analyse, stated((15, 45), (13, 45)), ride((14, 45)), ride((13, 45)))
    said = only(found, "tooth-pairs")
    assert said.severity == "warning"
    assert said.text == (
        "The rides fit 14/45 in before and 13/45 in after better than the stated 15/45 and 13/45: count the teeth in "
        "before, where the statement is off by 7 %."
    )
    assert "tooth-pairs-of-ride" not in codes(found)
    assert (found.comparisons[0].sprocket_candidates[0].front, found.comparisons[0].sprocket_candidates[0].rear) == (
        13,
        45,
    )


def test_exchanged_setups_are_said_to_be_and_nothing_of_tread(analyse: Analyse) -> None:
    """14/45 lies in before and 15/45 in after: 15/14 is +7.1 % where 14/15, -6.7 %, is predicted."""
    found = two(analyse, stated((15, 45), (14, 45)), ride((14, 45)), ride((15, 45)))
    said = only(found, "change-exchanged")
    assert said.severity == "warning"
    assert without_intervals(said.text).replace("+7.2", "+7.1") == (  # readings are rounded
        "before and after look exchanged: from before to after road speed at the same engine speed changed by "
        "+7.15 % (...), where the teeth predict −6.67 %. Look which ride lies in which folder, and which teeth "
        "bike.toml states for it."
    )
    assert not {"change-disagrees", "tooth-pairs", "tooth-pairs-of-ride", "circumference-far-from-nominal"} & set(
        codes(found)
    )
    assert not [f.text for f in found.findings if "tread" in f.text or "worn" in f.text]


def test_no_pair_fits_sixty_per_cent(analyse: Analyse) -> None:
    found = two(analyse, stated((15, 45), (14, 45)), ride((15, 45)), ride((15, 45), scale=1.6))
    said = only(found, "tooth-pairs-none")
    assert without_intervals(said.text) == (
        "No tooth pair explains a change of +60.00 % (...) from before to after. Look for a speed in another unit (mph "
        "taken for km/h is 61 %), a wrong file or a wrong gear."
    )
    assert found.comparisons[0].sprocket_candidates == ()


def test_another_tyre_stands_beside_the_teeth(analyse: Analyse) -> None:
    """A tyre 1.2 % larger: no tooth does that, and the stated teeth stay."""
    found = two(analyse, stated((15, 45), (14, 45)), ride((15, 45)), ride((14, 45), 2.024))
    said = only(found, "tooth-pairs")
    assert said.severity == "note"
    assert said.text.startswith(
        f"{ELSE}+1.1 % as well. Of all teeth the stated 15/45 and 14/45 stay the likeliest; count them to be certain."
    )
    best = found.comparisons[0].sprocket_candidates[0]
    assert (best.front, best.rear) == (14, 45)


def test_one_tooth_at_the_rear_or_a_tyre_is_not_decided(analyse: Analyse) -> None:
    """15/48 fitted where 15/47 is stated: 2.1 %, as another tyre may do."""
    found = two(analyse, stated((15, 45), (15, 47)), ride((15, 45)), ride((15, 48)))
    said = only(found, "tooth-pairs")
    assert said.severity == "note"
    assert said.text.startswith(f"{ELSE}−2.0 % as well. These teeth in before and after come nearest: ")
    assert "15/45 and 15/48 (−6.2 %)" in said.text
    assert "15/45 and 15/47 as stated (−4.3 %)" in said.text
    assert all(pair.probability < 0.8 for pair in found.comparisons[0].sprocket_candidates)
    # no number of passes tells a tyre from a tooth, so none is asked for
    assert not [f for f in found.findings if f.code == "one-more-ride" and "teeth are fitted" in f.text]


def test_teeth_that_are_not_stated_are_listed(analyse: Analyse) -> None:
    found = two(analyse, stated((15, 43), None), ride((15, 43)), ride((14, 43)))
    text = only(found, "tooth-pairs").text
    assert text.startswith("In after ")
    assert "14/43 (−6.7 %)" in text
    assert text.endswith("; count the teeth to be certain.")


def test_a_speedometer_driven_from_the_gearbox_tells_no_teeth(analyse: Analyse) -> None:
    more = '[speedometer]\ndriven_from = "gearbox output"\n'
    before, after = (ride((15, 45), speed="indicated_kmh", scale=scale) for scale in (1.05, 1.0))
    found = two(analyse, stated((15, 45), (14, 45), more), before, after)
    assert found.comparisons[0].sprocket_check is None
    assert not {"tooth-pairs", "tooth-pairs-none", "tooth-pairs-of-ride"} & set(codes(found))


@pytest.mark.parametrize("circumference_m", [2.0, 2.04, 1.96])
def test_one_ride_fits_the_stated_pair(analyse: Analyse, circumference_m: float) -> None:
    found = analyse({"bike.toml": stated((15, 43)), "before/a.csv": ride((15, 43), circumference_m)})
    said = only(found, "tooth-pairs-of-ride")
    assert said.severity == "note"
    assert said.text.startswith("before: this ride fits the stated 15/43; so would 15/")
    assert said.text.count(".") == 1


def test_one_ride_on_a_used_bike_with_other_sprockets(analyse: Analyse) -> None:
    """14/44 is 3.143, 15/43 is 2.867: 9.6 % apart. Tyre 0.5 %, tachometer 3 %/sqrt 3: 2 sd are 3.5 %, 2.77 to 2.97."""
    found = analyse({"bike.toml": stated((14, 44)), "before/a.csv": ride((15, 43))})
    said = only(found, "tooth-pairs-of-ride")
    assert said.severity == "warning"
    assert said.text == (
        "before: with the stated 14/44 all gears are 9.6 % off, more than tyre and tachometer explain, so no "
        "circumference is given. This ride fits rear/front = 2.87 (2.77 to 2.97), such as 13/36 to 13/38, "
        "14/39 to 14/41, 15/42 to 15/44: count the teeth on both sprockets."
    )
    assert found.setups[0].circumference is None, "it would be as far off as the teeth"


@pytest.mark.parametrize(
    ("entered", "said"),
    [
        (
            "primary = 2.5\ngears = [6.5, 4.75, 3.75, 3.125]",
            "The gears in bike.toml look as if the primary drive were multiplied in already: leave out primary.",
        ),
        ("primary = 1.9\ngears = [2.6, 1.9, 1.5, 1.25]", "and look at the primary drive (2.50 would fit, not 1.90)."),
    ],
)
def test_a_wrong_entry_that_moves_all_gears_is_named_and_costs_no_answer(
    analyse: Analyse, entered: str, said: str
) -> None:
    """v = n C / (60 i) by hand, C = 2.0 m: the change is told all the same, the circumference is not."""
    bike = "[gearbox]\n{}\n[final_drive]\nrear = 43\n[tyre]\nrolling_circumference_mm = 2000\n" + SETUPS
    gears = [2.5 * g for g in (2.6, 1.9, 1.5, 1.25)]
    files = {
        f"{name}/a.csv": sheet([round(5000 * 2.0 / 60 / (g * 43 / front) * 3.6, 1) for g in gears])
        for name, front in (("before", 16), ("after", 15))
    }
    found = analyse({"bike.toml": bike.format(entered), **files})
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(-6.25)
    assert [result.circumference for result in found.setups] == [None, None]
    assert all(text.endswith(said) for text in texts(found, "tooth-pairs-of-ride"))
    assert len(texts(found, "tooth-pairs-of-ride")) == 2
    assert not {"tooth-pairs-none", "change-disagrees"} & set(codes(found))


def test_ratios_that_no_tyre_could_have_are_said_to_be_wrong_without_a_tyre_too(analyse: Analyse) -> None:
    """The primary drive of 2.5 is in the gears and stated again: 2.0 m come out as 5.0 m."""
    bike = "[gearbox]\nprimary = 2.5\ngears = [6.5, 4.75, 3.75, 3.125]\n[final_drive]\nrear = 43\n" + SETUPS
    speeds_as_read = [round(5000 * 2.0 / 60 / (g * 43 / 16) * 3.6, 1) for g in (6.5, 4.75, 3.75, 3.125)]
    found = analyse({"bike.toml": bike, "before/a.csv": sheet(speeds_as_read)})
    assert found.setups[0].circumference is None
    assert only(found, "circumference-unlikely").text.startswith(
        "before: with the stated ratios a turn of the wheel would be 5.0 m, which no motorcycle's is"
    )


def test_a_gear_mistyped_in_the_papers_is_named_once_with_the_teeth_that_fit(analyse: Analyse) -> None:
    """Fourth gear is 26/22 and typed 27/22: 3.8 % off in both rides, which agree with each other all the same."""
    gears = (36 / 14, 33 / 18, 29 / 20, 26 / 22, 24 / 24)
    bike = (
        '[gearbox]\nprimary = 2.5\ngears = ["36/14", "33/18", "29/20", "27/22", "24/24"]\n[final_drive]\nrear = 43\n'
        "[tyre]\nrolling_circumference_mm = 2000\n" + SETUPS
    )
    files = {
        f"{name}/a.csv": "gear,rpm,speed_kmh\n"
        + "".join(
            f"{g + 1},{rpm},{rpm * 2.0 / 60 / (2.5 * ratio * 43 / front) * 3.6:.1f}\n"
            for rpm in (3000, 4000, 5000)
            for g, ratio in enumerate(gears)
        )
        for name, front in (("before", 16), ("after", 15))
    }
    found = analyse({"bike.toml": bike, **files})
    said = only(found, "gear-off-its-teeth").text
    assert said.startswith("bike.toml states 1.227 for fourth gear; 1.18")
    assert said.endswith(" would fit every setup: 26/22 teeth. The change does not rest on it.")
    assert [gear.gear for gear in found.comparisons[0].gears] == [1, 2, 3, 4, 5]
    only(found, "change-agrees")
    for result in found.setups:
        assert result.circumference is not None
        assert result.circumference.estimate_m.contains(2.0)


def texts(analysis: Analysis, code: str) -> list[str]:
    return [finding.text for finding in analysis.findings if finding.code == code]


def test_one_ride_between_fit_and_doubt(analyse: Analyse) -> None:
    """4.2 %: beyond 1.96 x 1.8 % and within 2.8 x 1.8 %."""
    found = analyse({"bike.toml": stated((15, 45)), "before/a.csv": ride((15, 45), 2.084)})
    said = only(found, "tooth-pairs-of-ride")
    assert said.severity == "note"
    assert "is 4.2 % off what this ride shows, which tyre and tachometer may just explain. " in said.text


def test_one_ride_without_stated_teeth_names_what_fits(analyse: Analyse) -> None:
    found = analyse({"bike.toml": stated(None), "before/a.csv": ride((15, 43))})
    said = only(found, "tooth-pairs-of-ride").text
    assert said == (
        "before: this ride fits rear/front = 2.87 (2.77 to 2.97), such as 13/36 to 13/38, 14/39 to 14/41, "
        "15/42 to 15/44, 16/45 to 16/47, 17/48 to 17/50. Count the teeth and put them into bike.toml."
    )


def test_two_rides_that_agree_with_each_other_and_not_with_the_papers(analyse: Analyse) -> None:
    """15/40 and 14/40 fitted, 15/44 and 14/44 stated: the change is right and both levels are 10 % off."""
    found = two(analyse, stated((15, 44), (14, 44)), ride((15, 40)), ride((14, 40)))
    only(found, "change-agrees")
    warned = [f for f in found.findings if f.code.startswith("tooth-pairs")]
    assert warned
    assert all(f.severity == "warning" for f in warned)


def test_a_shaft_has_no_sprockets_to_count(analyse: Analyse) -> None:
    more = '[final_drive]\nkind = "shaft"\n'
    toml = stated((11, 33), None, more)
    found = analyse({"bike.toml": toml, "before/a.csv": ride((11, 33), 2.2)})
    assert "tooth-pairs-of-ride" not in codes(found)
    assert only(found, "circumference-far-from-nominal").text == (
        "before: all gears are 10.0 % off the stated ratios together. Tyre (another make 2–3 %, wear up to 2 %) and "
        "tachometer (up to 3 %) hardly explain that: look at the stated ratios and at the size of the tyre."
    )
