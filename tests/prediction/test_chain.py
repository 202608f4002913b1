"""Chain drives against textbooks and a maker's catalogue."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gearfit.prediction.chain import (
    CommonFactors,
    axle_movement_m,
    chordal_variation,
    common_factors,
    exact_centre_pitches,
    exact_links,
    handbook_centre_pitches,
    handbook_links,
    pitch_diameter_m,
)

front_teeth, rear_teeth = st.integers(11, 20), st.integers(30, 60)
centres = st.floats(30, 50)


# Bhandari, Design of Machine Elements, example 14.3: 21/63 teeth, p = 12.7 mm, 500 mm; Ln = 121.875097, taken as 122;
# a = 500.804717 mm.
def test_bhandari_example_14_3() -> None:
    assert handbook_links(21, 63, 500 / 12.7) == pytest.approx(121.875097, abs=5e-7)
    assert 12.7 * handbook_centre_pitches(21, 63, 122) == pytest.approx(500.804717, abs=5e-7)


# Bhandari, example 14.4: 17/34 teeth, p = 19.05 mm, 40 pitches; Ln = 105.683011, taken as 106; D1 = 103.673741 mm,
# D2 = 206.462975 mm; a, less 0.2 % for sag, = 763.496160 mm.
def test_bhandari_example_14_4() -> None:
    assert handbook_links(17, 34, 40) == pytest.approx(105.683011, abs=5e-7)
    assert 0.998 * 19.05 * handbook_centre_pitches(17, 34, 106) == pytest.approx(763.496160, abs=5e-7)
    assert 19.05 * pitch_diameter_m(1, 17) == pytest.approx(103.673741, abs=5e-7)
    assert 19.05 * pitch_diameter_m(1, 34) == pytest.approx(206.462975, abs=5e-7)


# Mott, Machine Elements in Mechanical Design, 4th edition, example 7-3: 17/65 teeth, p = 0.5 in, 30 pitches; L = 102.9,
# taken as 104; C = 30.54 pitches = 15.272 in; D = 2.721 and 10.349 in.
def test_mott_example_7_3() -> None:
    assert handbook_links(17, 65, 30) == pytest.approx(102.9, abs=0.05)
    assert handbook_centre_pitches(17, 65, 104) == pytest.approx(30.54, abs=0.005)
    assert 0.5 * handbook_centre_pitches(17, 65, 104) == pytest.approx(15.272, abs=5e-4)
    assert pitch_diameter_m(0.5, 17) == pytest.approx(2.721, abs=5e-4)
    assert pitch_diameter_m(0.5, 65) == pytest.approx(10.349, abs=5e-4)


# Shigley (Budynas), solution of problem 17-26: 21/84 teeth, p = 0.5 in, 20 in; L/p = 135.
def test_shigley_problem_17_26() -> None:
    assert handbook_links(21, 84, 20 / 0.5) == pytest.approx(135, abs=0.5)


# Jindal, Machine Design, examples 30-3 (21/42, 9.52 mm, 50 pitches: 1254.01 mm), 30-5 (17/34, 15.88 mm, 40 pitches:
# 1678.25 mm) and 30-1 (17/51, 9.52 mm, 300 mm: there and back to 300.00 mm).
def test_jindal_chapter_30() -> None:
    assert 9.52 * handbook_links(21, 42, 50) == pytest.approx(1254.01, abs=0.005)
    assert 15.88 * handbook_links(17, 34, 40) == pytest.approx(1678.25, abs=0.005)
    links = handbook_links(17, 51, 300 / 9.52)
    assert 9.52 * handbook_centre_pitches(17, 51, links) == pytest.approx(300.00, abs=0.005)


# Khurmi and Gupta, Theory of Machines, chapter 11: 20/40 teeth, larger pitch circle 600 mm in diameter, 800 mm;
# 3.0402 m by their cosecant form, which has (r2 - r1)^2 where (3a) has ((z2 - z1)/2 pi)^2.
def test_khurmi_chapter_11() -> None:
    pitch_m = 0.6 * math.sin(math.pi / 40)
    small, large = pitch_diameter_m(1, 20) / 2, pitch_diameter_m(1, 40) / 2
    centre = 0.8 / pitch_m
    links = handbook_links(20, 40, centre) + ((large - small) ** 2 - (20 / (2 * math.pi)) ** 2) / centre
    assert pitch_m * pitch_diameter_m(1, 40) == pytest.approx(0.6)
    assert pitch_m * links == pytest.approx(3.0402, abs=5e-5)


# A catalogue of 06B sprockets, p = 9.525 mm: pitch diameters in mm, printed to 0.01.
def test_pitch_diameters_of_a_sprocket_makers_catalogue() -> None:
    teeth = [17, 19, 21, 25, 38, 45, 57, 95, 114]
    printed_mm = [51.83, 57.87, 63.91, 76.00, 115.35, 136.55, 172.91, 288.08, 345.68]
    assert [1000 * pitch_diameter_m(9.525e-3, z) for z in teeth] == pytest.approx(printed_mm, abs=0.015)


# DIN 8195 / ISO 606: a = (2 X - (z1 + z2)) f4 p, f4 tabled by (X - z1)/(z2 - z1). The four values of the table are from
# memory.
@pytest.mark.parametrize(("argument", "factor"), [(8, 0.24978), (4, 0.24896), (3, 0.24795), (2, 0.24421)])
def test_centre_distance_factors_of_din_8195(argument: float, factor: float) -> None:
    small, large = 20, 60
    links = small + argument * (large - small)
    assert exact_centre_pitches(small, large, links) == pytest.approx((2 * links - (small + large)) * factor, rel=5e-5)


# Wei Jiang, Analysis and Design of Machine Elements, chapter 7, equations 7.10-7.13: chain speed is highest with the
# pitch circle's radius R and lowest with R cos(pi/z); the values by teeth are our arithmetic on those equations.
def test_chordal_variation() -> None:
    teeth = [11, 12, 13, 14, 15, 16, 17, 19, 21]
    percent = [4.106, 3.447, 2.934, 2.528, 2.201, 1.934, 1.712, 1.370, 1.121]
    assert [100 * chordal_variation(z) for z in teeth] == pytest.approx(percent, abs=6e-4)
    radius = pitch_diameter_m(1, 13) / 2
    mean = 13 / (2 * math.pi)
    assert chordal_variation(13) == pytest.approx(radius * (1 - math.cos(math.pi / 13)) / mean)


# Built up from straight strands and chords, independent of the formula: corners of a 14- and a 42-toothed polygon and
# the two tangents between their circles.
def test_exact_length_is_strands_and_one_link_for_each_tooth_wrapped() -> None:
    small, large = (1 / (2 * math.sin(math.pi / teeth)) for teeth in (14, 42))
    distance = 36.0
    strand = math.sqrt(distance**2 - (large - small) ** 2)
    lean = math.atan2(large - small, strand)
    wrapped = 14 * (math.pi - 2 * lean) / (2 * math.pi) + 42 * (math.pi + 2 * lean) / (2 * math.pi)
    assert exact_links(14, 42, distance) == pytest.approx(2 * strand + wrapped, abs=1e-12)


# From 32 pitches on, which is shorter than the drives of motorcycles; 11/60 at 30 pitches misses by 0.012.
@given(front=front_teeth, rear=rear_teeth, centre=st.floats(32, 50))
def test_handbook_length_is_within_a_hundredth_of_a_link_of_the_exact_one(front: int, rear: int, centre: float) -> None:
    assert abs(exact_links(front, rear, centre) - handbook_links(front, rear, centre)) < 0.01


@pytest.mark.parametrize(("front", "rear", "centre"), [(15, 45, 40), (16, 43, 38), (14, 42, 36), (17, 42, 40)])
def test_handbook_length_is_within_a_thousandth_on_motorcycles(front: int, rear: int, centre: float) -> None:
    assert abs(exact_links(front, rear, centre) - handbook_links(front, rear, centre)) < 0.001


@pytest.mark.parametrize(
    ("length", "inverse"), [(handbook_links, handbook_centre_pitches), (exact_links, exact_centre_pitches)]
)
@given(front=front_teeth, rear=rear_teeth, centre=centres)
def test_centre_distance_is_the_inverse_of_length_either_way_round(
    length: Callable[..., float], inverse: Callable[..., float], front: int, rear: int, centre: float
) -> None:
    links = float(length(front, rear, centre))
    assert float(length(rear, front, centre)) == pytest.approx(links, abs=1e-12)
    assert inverse(front, rear, links) == pytest.approx(centre, abs=1e-9)
    assert inverse(rear, front, links) == pytest.approx(centre, abs=1e-9)


def test_equal_sprockets_need_two_strands_and_one_sprocket_of_links() -> None:
    assert exact_links(20, 20, 40) == pytest.approx(100)
    assert handbook_links(20, 20, 40) == pytest.approx(100)
    assert exact_centre_pitches(20, 20, 100) == pytest.approx(40)


# Touching sprockets, worked by hand: r = 2.247 and 6.850 pitches, C = 9.097, sin(b) = 0.5060, b = 0.5305;
# L = 15.693 + 4.636 + 28.761 = 49.09.
def test_a_chain_that_is_too_short() -> None:
    with pytest.raises(ValueError) as caught:
        exact_centre_pitches(14, 43, 40)
    assert str(caught.value) == "found 40 links round 14 and 43 teeth; allowed are more than 49.1 links"
    assert math.isnan(handbook_centre_pitches(14, 43, 20))
    assert math.isnan(handbook_centre_pitches(14, 43, 29))
    assert math.isnan(exact_links(14, 43, 3.0))


# Common practice, no source: one tooth less at the front lets the axle go back by about a quarter of a pitch, one tooth
# more at the rear brings it forward by about as much.
def test_axle_movement() -> None:
    quarter_m = 0.015875 / 4
    assert axle_movement_m(0.015875, 112, (14, 43), (13, 43)) == pytest.approx(quarter_m, rel=0.15)
    assert axle_movement_m(0.015875, 112, (14, 43), (14, 44)) == pytest.approx(-quarter_m, rel=0.15)
    assert axle_movement_m(0.015875, 112, (14, 43), (14, 43)) == 0
    assert axle_movement_m(0.0127, 112, (14, 43), (13, 43)) / axle_movement_m(
        0.015875, 112, (14, 43), (13, 43)
    ) == pytest.approx(0.8)


def test_two_links_more_take_the_axle_back_by_about_one_pitch() -> None:
    assert exact_centre_pitches(14, 43, 114) - exact_centre_pitches(14, 43, 112) == pytest.approx(1, abs=0.02)


def test_common_factors() -> None:
    assert common_factors(14, 42, 112) == CommonFactors(front_rear=14, front_links=14, rear_links=14)
    assert common_factors(13, 43, 112) == CommonFactors(front_rear=1, front_links=1, rear_links=1)
    assert common_factors(15, 45, 110) == CommonFactors(front_rear=15, front_links=5, rear_links=5)
