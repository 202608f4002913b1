"""One gear, or one row, that does not agree with the rest is named, and no other is."""

from __future__ import annotations

import pytest

from tests.findings.conftest import BIKE, GEARS, SETUPS, Analyse, codes, only, sheet, speeds_kmh, without_intervals

#: Common practice, no source: speeds in mph at 5000 rpm, read to 1 mph, with a front sprocket of 15 teeth; the same
#: bike with 16 teeth, 16/15 of it, in which second gear was written down 5 mph faster.
TRADE_AFTER_MPH = [29, 40, 50, 60, 69, 74]
TRADE_BEFORE_MPH = [round(speed * 16 / 15) for speed in TRADE_AFTER_MPH]
TRADE_BEFORE_MPH[1] = 45


@pytest.mark.parametrize("stated", [SETUPS, "[final_drive]\nrear = 43\n" + SETUPS], ids=["front alone", "both"])
def test_second_gear_is_named_and_sixth_is_not(analyse: Analyse, stated: str) -> None:
    """Common practice, no source: 5 mph in second gear is no 15/16, in sixth it is."""
    found = analyse(
        {
            "bike.toml": stated,
            "before/sheet.csv": sheet(TRADE_BEFORE_MPH, speed="speed_mph"),
            "after/sheet.csv": sheet(TRADE_AFTER_MPH, speed="speed_mph"),
        },
        "mph",
    )
    (comparison,) = found.comparisons
    assert {gear.gear: gear.consistent for gear in comparison.gears} == {
        1: True, 2: False, 3: True, 4: True, 5: True, 6: True,
    }  # fmt: skip
    said = only(found, "gear-out-of-line")
    assert said.severity == "warning"
    head, rest = without_intervals(said.text).split(": ", 1)
    assert head == "Second gear changed by −11.1 % (...) where the others changed by −6.3 %"
    z, rest = rest.split(" ", 1)
    assert 3 < float(z) < 6
    assert rest == (
        "standard errors out of line, and no change of the final drive moves one gear alone. One of its readings is "
        "likely wrong; look at before/sheet.csv line 3 (5000 rpm, 45 mph) and after/sheet.csv line 3 (5000 rpm, "
        "40 mph). 43 mph would fit in the first, or 42 mph in the second."
    )
    assert not [finding for finding in found.findings if "ixth" in finding.text and finding.severity == "warning"]
    assert comparison.all_gears_change_percent is not None
    assert comparison.all_gears_change_percent.contains(-6.25)


@pytest.mark.parametrize("wild", range(1, 7))
def test_whichever_gear_is_wild_it_is_named(analyse: Analyse, wild: int) -> None:
    after = speeds_kmh(15)
    after[wild - 1] = round(after[wild - 1] * 1.08, 1)
    found = analyse({"bike.toml": SETUPS, "before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(after)})
    assert [gear.gear for gear in found.comparisons[0].gears if gear.consistent is False] == [wild]
    assert only(found, "gear-out-of-line").text.startswith(
        ("First", "Second", "Third", "Fourth", "Fifth", "Sixth")[wild - 1]
    )
    shown = only(found, "speeds-at-rpm").text
    assert f"{after[wild - 1]} km/h" not in shown, "a wild gear is no example of the common factor"


def test_of_two_gears_that_disagree_nothing_is_claimed(analyse: Analyse) -> None:
    found = analyse(
        {
            "bike.toml": SETUPS,
            "before/a.csv": sheet([30, 45], speed="speed_mph"),
            "after/b.csv": sheet([28, 47], speed="speed_mph"),
        },
        "mph",
    )
    assert without_intervals(only(found, "change-undecided").text).startswith(
        "From before to after these readings cannot tell what changed: road speed at the same engine speed moved by"
    )
    assert "(first gear −6.7 %, second gear +4.4 %), and a tooth or two is within that." in only(
        found, "change-undecided"
    ).text.replace("\N{NO-BREAK SPACE}", " ")
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(-6.7)
    assert change.contains(4.4)
    assert not {"change-measured", "speeds-at-rpm", "front-sprocket-guess"} & set(codes(found))


def three_rounds(front: int) -> list[str]:
    rows = []
    for rpm in (4000, 4500, 5000):
        rows += sheet(speeds_kmh(front, rpm=rpm), rpm=rpm).splitlines()[1:]
    return rows


def test_a_misread_row_among_others_of_its_gear(analyse: Analyse) -> None:
    """Fourth gear at 4500 rpm, the tenth of 18 rows: line 11 of the file."""
    rows = three_rounds(15)
    right = float(rows[9].split(",")[2])
    rows[9] = f"4,4500,{right + 7:g}"
    found = analyse(
        {
            "bike.toml": BIKE + SETUPS,
            "before/a.csv": "gear,rpm,speed_kmh\n" + "\n".join(three_rounds(16)),
            "after/b.csv": "gear,rpm,speed_kmh\n" + "\n".join(rows),
        }
    )
    said = only(found, "odd-row")
    assert said.severity == "warning"
    assert said.text == (
        f"after/b.csv, line 11: {right:.1f} km/h would fit the other readings, not {right + 7:.1f} km/h at 4500 rpm in "
        f"fourth gear (or {10 * round(450 * (right + 7) / right)} rpm at that speed). The row is excluded."
    )
    assert found.setups[1].left_out == {"out of line with the other readings": 1}
    only(found, "change-agrees")
    assert "gear-out-of-line" not in codes(found)


def test_a_misread_row_alone_in_its_gear(analyse: Analyse) -> None:
    """With tooth counts the other gears say what it should have been."""
    after = speeds_kmh(15)
    right, after[5] = after[5], after[5] + 8
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(after)})
    said = only(found, "odd-row").text
    assert said.startswith(
        f"after/b.csv, line 7: {right:.1f} km/h would fit the other readings, not {after[5]:.1f} km/h at 5000 rpm in "
        "sixth gear (or "
    )
    assert said.endswith(" rpm at that speed). The row is excluded.")
    assert [gear.gear for gear in found.comparisons[0].gears] == [1, 2, 3, 4, 5]
    only(found, "change-agrees")


def test_wrong_tooth_counts_of_one_gear(analyse: Analyse) -> None:
    """Several rows in third gear agree with each other and not with the counts: the counts are doubted."""
    bike = BIKE.replace(f"{GEARS[2]},", "1.42,") + SETUPS
    text = "gear,rpm,speed_kmh\n" + "\n".join(three_rounds(16))
    found = analyse({"bike.toml": bike, "before/a.csv": text})
    said = only(found, "gear-off-its-teeth")
    assert without_intervals(said.text) == (
        "before: third gear is +5.6 % (...) off the ratio that its tooth counts give next to the other gears: check "
        "the counts in bike.toml, and whether its samples are clean. A clutch of before that slips under load makes "
        "upper gears look shorter as well: take the same gears at light load before any part is blamed."
    )
    assert [gear.gear for gear in found.setups[0].gears if gear.consistent is False] == [3]


def test_shuffled_rows_and_another_unit_give_the_same_result(analyse: Analyse) -> None:
    rows = three_rounds(16)
    header = "gear,rpm,speed_kmh\n"
    mph = [f"{g},{n},{float(v) / 1.609344:.9f}" for g, n, v in (row.split(",") for row in rows)]
    backwards = header + "\n".join(rows[::-1])
    plain = analyse({"bike.toml": BIKE, "before/a.csv": header + "\n".join(rows)}).setups[0]
    turned = analyse({"before/a.csv": backwards}).setups[0]
    converted = analyse({"before/a.csv": "gear,rpm,speed_mph\n" + "\n".join(mph)}).setups[0]
    for other in (turned, converted):
        for one, two in zip(plain.gears, other.gears, strict=True):
            assert two.speed_per_1000rpm_mps.value == pytest.approx(one.speed_per_1000rpm_mps.value, rel=2e-5)
