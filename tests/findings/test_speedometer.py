"""What the findings say of the speedometer, on small invented sheets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh, without_intervals

TRUE_KMH = np.linspace(28, 128, 14)
#: Readings scatter as a rider reads: within half a km/h.
SCATTER_KMH = 0.4 * np.array([0.3, -0.8, 0.6, 0.1, -0.4, 0.9, -0.2, 0.5, -0.9, 0.2, 0.7, -0.6, -0.3, 0.0])
LAW = "Law differs from place to place, so ask which rule counts for this machine where it is ridden."
RULE = '[speedometer]\nregulation = "UNECE R39"\n'


def dash(gain: float, offset_kmh: float = 0.5, true_kmh: Sequence[float] | np.ndarray = TRUE_KMH) -> str:
    rows = "".join(
        f"{gain * true + offset_kmh + more:.0f},{true:.1f}\n" for true, more in zip(true_kmh, SCATTER_KMH, strict=False)
    )
    return f"indicated_kmh,gps_kmh\n{rows}"


def test_within_the_rule_and_driven_from_the_gearbox(analyse: Analyse) -> None:
    files = {"before/dash.csv": dash(1.02), "after/dash.csv": dash(1.02 * 16 / 15)}
    found = analyse({"bike.toml": BIKE + SETUPS + RULE, **files})
    assert "no-common-gear" not in codes(found)
    first, second = (f for f in found.findings if f.code == "speedometer-verdict")
    assert first.severity == "note"
    assert first.text.startswith("before: shown speed = 1.0")
    assert first.text.endswith(f" Against UNECE R39: within. {LAW}")
    assert second.text.startswith("after: ")
    told = only(found, "speedometer-pick-up")
    assert told.severity == "note"
    assert "expected is +6.67 % if driven from the gearbox output and 0.00 % if driven from a wheel" in told.text
    assert told.text.endswith(
        "So it is driven from the gearbox output. The swap changed what it shows, and over a true 10 000 km the "
        "odometer counts 667 km more than before."
    )


def test_driven_from_a_wheel(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE + SETUPS + RULE, "before/dash.csv": dash(1.05), "after/dash.csv": dash(1.05)})
    assert only(found, "speedometer-pick-up").text.endswith(
        "So it is driven from a wheel. The swap does not change what it shows. Which wheel cannot be told, as no tyre "
        "was changed."
    )


@pytest.mark.parametrize(
    ("stated", "gain", "severity"),
    [
        ("front wheel", 1.0, "note"),
        ("front wheel", 16 / 15, "warning"),
        ("gearbox output", 16 / 15, "note"),
        ("gearbox output", 1.0, "warning"),
    ],
)
def test_a_pick_up_stated_otherwise_is_pointed_out(analyse: Analyse, stated: str, gain: float, severity: str) -> None:
    stating = f'[speedometer]\ndriven_from = "{stated}"\n'
    found = analyse(
        {
            "bike.toml": BIKE + SETUPS + stating,
            "before/dash.csv": dash(1.03),
            "after/dash.csv": dash(1.03 * gain),
        }
    )
    told = only(found, "speedometer-pick-up")
    assert told.severity == severity
    remark = f" bike.toml states the {stated}: correct it, or look where the cable or the sensor sits."
    assert told.text.endswith(remark) == (severity == "warning")


def test_the_odometer_and_what_it_does_over_10_000_km(analyse: Analyse) -> None:
    odometer = "odometer_start_km,odometer_end_km,odometer_true_km\n100.0,204.0,100.0\n"
    found = analyse({"bike.toml": BIKE, "before/a.csv": sheet(speeds_kmh(16)), "before/odometer.csv": odometer})
    text = only(found, "odometer").text
    assert text.startswith("before: over 100.0 km in 1 ride the odometer counted +4.0")
    assert text.endswith("against the true distance; over a true 10 000 km that is 400 km more.")
    bare = {"before/odometer.csv": "odometer_start_km,odometer_end_km\n100.0,204.0\n"}
    assert only(analyse(bare), "odometer-not-judged").text.startswith("before: the odometer is not judged: 1 rides by ")


def test_an_instrument_that_shows_less_than_the_truth_comes_first(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE + RULE, "before/dash.csv": dash(0.94)})
    first = found.findings[0]
    assert (first.code, first.severity) == ("speedometer-under-reads", "warning")
    assert without_intervals(first.text).endswith(
        " A rider who trusts it goes faster than the dash says. Correct it before riding on public roads; many rules "
        "never allow an instrument to show less than the true speed."
    )
    assert "outside" in only(found, "speedometer-verdict").text
    assert only(found, "speedometer-verdict").severity == "warning"
    assert "a pulse corrector set to 1.0" in only(found, "speedometer-correction").text


def test_without_a_rule_the_errors_alone(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE, "before/dash.csv": dash(1.05)})
    text = only(found, "speedometer").text
    assert text.endswith(f"No rule was asked for. {LAW}")
    assert "km/h at a true 40, 80 and 120 km/h" in text


def test_the_swap_to_come_is_predicted(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE + SETUPS, "before/dash.csv": dash(1.05)})
    assert only(found, "speedometer-after-swap").text == (
        "With after fitted: driven from the gearbox output, the speedometer reads 6.7 % higher at the same true "
        "speed, and over a true 10 000 km the odometer counts 667 km more than before; driven from the rear wheel, "
        "speedometer and odometer stay as they are; driven from the front wheel, speedometer and odometer stay as "
        "they are."
    )


def test_what_cannot_be_judged_says_why(analyse: Analyse) -> None:
    two = "indicated_kmh,gps_kmh\n50,48\n60,58\n"
    found = analyse({"bike.toml": BIKE, "before/a.csv": sheet(speeds_kmh(16)), "before/dash.csv": two})
    assert only(found, "speedometer-not-judged").text == (
        "before: the speedometer is not judged. 2 pairs of shown and true speed are too few; three are the least."
    )


def test_few_readings_and_no_corrector(analyse: Analyse) -> None:
    three = "indicated_kmh,gps_kmh\n40,40.2\n70,69.7\n100,100.4\n"
    found = analyse({"bike.toml": BIKE + RULE, "before/dash.csv": three})
    assert only(found, "speedometer-remark").text == (
        "before, speedometer: Among 3 readings one that was misread cannot be told from the others: write ten, spread "
        "over the speeds."
    )
    assert only(found, "speedometer-correction").text == (
        "before, pulse corrector: no corrector is advised: at every speed the 95 % interval of the error holds zero."
    )


def test_a_row_that_is_out_of_line_is_named(analyse: Analyse) -> None:
    rows = dash(1.05).splitlines()
    rows[6] = rows[6].replace(rows[6].split(",")[0], "85", 1)
    found = analyse({"bike.toml": BIKE, "before/dash.csv": "\n".join(rows) + "\n"})
    assert only(found, "speedometer-remark").text == (
        "before, speedometer: Out of line with the other readings and left aside: before/dash.csv line 7."
    )


@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_the_unit(analyse: Analyse, unit: str) -> None:
    found = analyse({"bike.toml": BIKE + RULE, "before/dash.csv": dash(1.05)}, unit)
    label = {"kmh": "km/h", "mph": "mph"}[unit]
    assert f"{label} at a true " in only(found, "speedometer-verdict").text
