"""The study of handwritten folders itself: its folders are what their truth says, and its rule is the stated one."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from tests.validation.notebooks.choices import draw_choices, plain_choices
from tests.validation.notebooks.folders import make
from tests.validation.notebooks.judge import judge
from tests.validation.notebooks.printed import Printed, printed
from tests.validation.notebooks.rides import unit_mps
from tests.validation.notebooks.verdicts import CHANGE, CRASH, NARROW, RIGHT, WRONG, grade

SEEDS = range(200)


def test_a_seed_gives_the_same_folder() -> None:
    assert make(7).files == make(7).files
    assert make(7).files != make(8).files


def test_gears_of_the_bikes_descend_and_are_far_enough_apart() -> None:
    for seed in SEEDS:
        speeds = list(make(seed).truth.per_1000rpm_mps["before"].values())
        steps = np.diff(np.log(speeds))
        assert 4 <= len(speeds) <= 6
        assert steps.min() > 0.04
        assert steps.max() < 0.65


def test_rows_stand_in_the_lines_that_the_truth_names() -> None:
    for seed in SEEDS:
        case = make(seed)
        for (file, line), row in case.truth.rows.items():
            content = case.files[file]
            encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
            text = content.decode(encoding).splitlines()[line - 1].replace(",", ".")
            assert f"{row.speed:g}" in text or (row.beside is not None and f"{row.beside:g}" in text)


def test_readings_without_scatter_show_the_true_change() -> None:
    """The mean of many readings to one unit; the teeth alone are within tyre and weather of a day (0.15 % each)."""

    def steady(rng: np.random.Generator) -> object:
        return replace(plain_choices(rng, 0.0, 6, True), read_to="half")

    for seed in range(40):
        case = make(seed, steady)  # type: ignore[arg-type]
        by_key: list[dict[tuple[int, float], list[float]]] = [{}, {}]
        for (file, _), row in case.truth.rows.items():
            by_key[file.startswith("after")].setdefault((row.true_gear, row.rpm), []).append(row.speed)
        ratio = [np.mean(by_key[1][key]) / np.mean(by_key[0][key]) for key in by_key[0]]
        assert 100 * (np.mean(ratio) - 1) == pytest.approx(case.truth.change_percent, abs=1.0)
        assert case.truth.change_percent == pytest.approx(case.truth.teeth_change_percent, abs=0.8)


def test_each_kind_of_slip_is_in_one_row_at_most() -> None:
    for seed in SEEDS:
        case = make(seed)
        slips = {(row.true_gear, row.rpm, row.speed, row.slip) for row in case.truth.slips.values()}
        assert len(slips) <= 1
        assert all(slip[3] == case.choices.slip for slip in slips)


def test_units_of_the_person() -> None:
    person = draw_choices(np.random.default_rng(0))
    assert unit_mps(replace(person, mph=True)) == pytest.approx(0.44704)
    assert unit_mps(replace(person, mph=False)) == pytest.approx(1 / 3.6)


@pytest.mark.parametrize(
    ("truth", "expected"),
    [(0.0, RIGHT), (1.0, RIGHT), (1.4, NARROW), (1.9, NARROW), (2.1, WRONG), (-2.1, WRONG), (-1.2, NARROW)],
)
def test_rule_for_intervals(truth: float, expected: str) -> None:
    assert grade({"value": 0.0, "lo95": -1.0, "hi95": 1.0}, truth, floor=0.5) == expected


def test_a_narrow_interval_is_no_wrong_number_below_the_floor() -> None:
    assert grade({"value": 0.0, "lo95": -0.1, "hi95": 0.1}, 0.55, floor=0.5) == NARROW
    assert grade({"value": 0.0, "lo95": None, "hi95": None}, 0.55, floor=0.5) == WRONG


def test_a_plain_folder_is_judged_and_a_crash_is_one() -> None:
    case = make(3, partial(plain_choices, scatter=0.005, readings=3, teeth=True))
    verdicts = {v.subject: v.verdict for v in judge(case, printed(case))}
    assert CHANGE in verdicts
    assert judge(case, Printed(crash="KeyError: 'x'"))[0].verdict == CRASH


def test_another_change_than_the_true_one_is_wrong() -> None:
    case = make(3, partial(plain_choices, scatter=0.005, readings=3, teeth=True))
    out = printed(case)
    other = replace(case, truth=replace(case.truth, change_percent=case.truth.change_percent + 20))
    assert judge(other, out)[0].verdict == WRONG
