"""Tyre sizes against published tables, and what is refused."""

from __future__ import annotations

import math

import pytest

from gearfit.machine.bike import Tyre
from gearfit.machine.tyre import (
    CIRCUMFERENCE_PER_DIAMETER,
    SIZE_CODE_RELATIVE_SD,
    nominal_circumference_m,
    overall_diameter_m,
    tyre_size,
)


# A tyre maker's sidewall guide: D = 2 x width x aspect ratio + rim; the three rows are its own examples.
@pytest.mark.parametrize(("size", "diameter_mm"), [("120/100-18", 697.2), ("120/90-18", 673.2), ("120/80-18", 649.2)])
def test_diameters_of_a_tyre_makers_guide(size: str, diameter_mm: float) -> None:
    assert 1000 * overall_diameter_m(size) == pytest.approx(diameter_mm, abs=1e-9)


# The same guide: inch code 3.50-18 has an aspect ratio of 100 %, so D = 2 x 88.9 + 457.2 mm (our arithmetic).
def test_inch_code_has_an_aspect_ratio_of_100_percent() -> None:
    assert 1000 * overall_diameter_m("3.50-18") == pytest.approx(635.0, abs=1e-9)


# A published table of common motorcycle sizes, rounded to whole mm and with 432 mm for a 17-inch rim (ISO 4249 rounds
# 431.8 so): overall diameter and circumference on paper, pi D.
@pytest.mark.parametrize(
    ("size", "diameter_mm", "circumference_mm"),
    [
        ("120/70-17", 600, 1883),
        ("125/70-17", 607, 1905),
        ("160/60-17", 624, 1959),
        ("180/55-17", 630, 1977),
        ("180/60-17", 648, 2034),
    ],
)
def test_rounded_table_of_motorcycle_sizes(size: str, diameter_mm: int, circumference_mm: int) -> None:
    assert 1000 * overall_diameter_m(size) == pytest.approx(diameter_mm, abs=0.75)
    assert 1000 * math.pi * overall_diameter_m(size) == pytest.approx(circumference_mm, abs=2)


# The same table: every row within 1 % of the circumference on paper. What a tyre rolls under load is less; the nominal
# value lies between that row and GTR 15's 3.05 D, within its stated spread of either.
@pytest.mark.parametrize(
    ("size", "printed_mm"),
    [("120/70-17", 1883), ("125/70-17", 1905), ("160/60-17", 1959), ("180/55-17", 1977), ("180/60-17", 2034)],
)
def test_circumference_on_paper_is_within_one_percent_of_the_published_rows(size: str, printed_mm: int) -> None:
    found = tyre_size(size)
    assert 1000 * found.unloaded_circumference_m == pytest.approx(printed_mm, rel=0.01)
    assert found.loaded_circumference_m < found.rolling_circumference_m < printed_mm / 1000
    assert 1000 * found.rolling_circumference_m == pytest.approx(printed_mm, rel=SIZE_CODE_RELATIVE_SD)


# A page on tyre sizes: section heights of 81 mm for 90/90-21 and 104 mm for 130/80 R17, rim 21 in = 533.4 mm.
@pytest.mark.parametrize(("size", "height_mm", "rim_mm"), [("90/90-21", 81, 533.4), ("130/80 R17", 104, 431.8)])
def test_published_section_heights(size: str, height_mm: float, rim_mm: float) -> None:
    found = tyre_size(size)
    assert found.width_mm * found.aspect_percent / 100 == pytest.approx(height_mm)
    assert 1000 * found.overall_diameter_m == pytest.approx(2 * height_mm + rim_mm)


# The sidewall guide again: low-profile inch code 4.10-19 has an aspect ratio of 90 %, 4.25/85-18 one of 85 %. The other
# widths of the low-section series (.10 and .60) are from memory.
@pytest.mark.parametrize(
    ("size", "aspect", "series"),
    [
        ("3.50-18", 100, "inch"),
        ("3.25H19", 100, "inch"),
        ("4.10-19", 90, "low-section inch"),
        ("4.10 R19", 90, "low-section inch"),
        ("3.60-18", 90, "low-section inch"),
        ("4.25/85-18", 85, "low-section inch"),
        ("4.25/85 H18 64H", 85, "low-section inch"),
    ],
)
def test_inch_codes(size: str, aspect: float, series: str) -> None:
    found = tyre_size(size)
    assert (found.aspect_percent, found.series) == (aspect, series)
    assert found.width_mm == pytest.approx(25.4 * float(size[:4]))


# A guide for owners: letter code MT90-16 equals 130/90-16.
@pytest.mark.parametrize("size", ["MT90-16", "MT90B16", "mt90 16", "MT90-16 71H"])
def test_letter_code(size: str) -> None:
    assert overall_diameter_m(size) == pytest.approx(overall_diameter_m("130/90-16"))
    assert tyre_size(size).series == "letters"


# The rest of the series from memory, as tyre makers' conversion tables have it.
@pytest.mark.parametrize(
    ("code", "width_mm"),
    [("MH90", 80), ("MJ90", 90), ("MM90", 100), ("MN90", 110), ("MR90", 120), ("MT90", 130), ("MU90", 140)],
)
def test_letter_codes_of_one_series(code: str, width_mm: int) -> None:
    assert overall_diameter_m(f"{code}-18") == pytest.approx(overall_diameter_m(f"{width_mm}/90-18"))


@pytest.mark.parametrize("letter", "HVSWZ")
def test_a_letter_for_the_speed_may_stand_before_the_rim(letter: str) -> None:
    assert overall_diameter_m(f"120/90{letter}18") == pytest.approx(overall_diameter_m("120/90-18"))


# UN GTR 15, Annex 7, paragraph 8: U_dyn = 3.05 (2 (H/W)/100 W + 25.4 R), rounded to whole mm; its example size is
# 225/45 R17, for which the formula gives 1935 mm (our arithmetic). It is a rule for passenger cars.
def test_nominal_circumference_lies_between_gtr_15_and_the_unloaded_circle() -> None:
    diameter_m = overall_diameter_m("225/45 R17")
    assert round(3.05 * 1000 * diameter_m) == 1935
    nominal_m = nominal_circumference_m("225/45 R17")
    assert 1.935 < nominal_m < math.pi * diameter_m
    assert abs(nominal_m - 1.935) < SIZE_CODE_RELATIVE_SD * nominal_m
    assert abs(nominal_m - math.pi * diameter_m) < SIZE_CODE_RELATIVE_SD * nominal_m


# A consumer page prints 27.24 in for 130/80 R17: it adds two full widths in place of two sidewalls. Ours must not.
def test_two_sidewalls_not_two_widths() -> None:
    assert 1000 * overall_diameter_m("130/80 R17") == pytest.approx(639.8, abs=1e-9)


# Common practice, no source: a rear tyre loses about 6 mm of tread; from 640 mm that is 1.9 %, about one tooth in 50.
def test_tread_wear_is_as_large_as_one_tooth_on_a_50_tooth_sprocket() -> None:
    worn = 1 - (1000 * overall_diameter_m("130/80-17") - 12) / (1000 * overall_diameter_m("130/80-17"))
    assert worn == pytest.approx(0.019, abs=0.0005)
    assert worn == pytest.approx(1 / 50, rel=0.1)


@pytest.mark.parametrize(
    "size",
    ["140/70-17", "140/70 R17", "140/70R17", "140/70ZR17M/C 66W", "140/70-17M/C (66H)", " 140/70-17 ", "140/70B17"],
)
def test_one_size_in_many_spellings(size: str) -> None:
    assert 1000 * overall_diameter_m(size) == pytest.approx(2 * 98 + 431.8)


FORMS = "140/70-17, 150/70 R17, 4.00-18"


@pytest.mark.parametrize(
    ("size", "message"),
    [
        ("", "'' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18"),
        ("17 inch", "'17 inch' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18"),
        ("140/70", "'140/70' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18"),
        (
            "140/70-170",
            "'140/70-170' is no size code known here; allowed are forms such as 140/70-17, 150/70 R17, 4.00-18",
        ),
        (
            "140/20-17",
            "'140/20-17' cannot be a tyre; allowed are widths 50-400 mm, aspect ratios 25-110 %, rims 8-24 in",
        ),
        (
            "4.25/25-18",
            "'4.25/25-18' cannot be a tyre; allowed are aspect ratios 50-110 % behind a width in inches",
        ),
        (
            "MU85-16",
            "'MU85-16' is a letter code without a metric equal known here; allowed are MH90, MJ90, MM90, MN90, MR90, "
            "MT90, MU90, or the metric size that stands beside it on the sidewall or in the papers",
        ),
        ("MT90-30", "'MT90-30' cannot be a tyre; allowed are rims 8-24 in"),
        ("110/80-18.5", "'110/80-18.5' is no size code known here; allowed are forms such as " + FORMS),
        ("120/90X18", "'120/90X18' is no size code known here; allowed are forms such as " + FORMS),
        ("4.00-18,5", "'4.00-18,5' is no size code known here; allowed are forms such as " + FORMS),
        ("9.00-18", "'9.00-18' cannot be a tyre; allowed are widths 1.5-7 in, rims 8-24 in"),
    ],
)
def test_refused_sizes(size: str, message: str) -> None:
    with pytest.raises(ValueError) as caught:
        overall_diameter_m(size)
    assert str(caught.value) == message


def test_a_stated_circumference_comes_before_the_size_code() -> None:
    tyre = Tyre("140/70-17", 1930.0, 4.0)
    assert tyre.nominal_circumference_m == pytest.approx(1.930)
    assert tyre.nominal_circumference_sd_m == pytest.approx(0.004)
    assert Tyre("140/70-17").nominal_circumference_m == pytest.approx(CIRCUMFERENCE_PER_DIAMETER * 0.6278)
    assert Tyre("140/70-17").nominal_circumference_sd_m == pytest.approx(0.02 * CIRCUMFERENCE_PER_DIAMETER * 0.6278)
    assert Tyre().nominal_circumference_m is None
    assert Tyre().nominal_circumference_sd_m is None
