"""`gearfit speedometer`, and the rule in `gearfit report`; a real drive with a reference as the truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.importers import ReadOptions, read_log
from gearfit.machine.bike import Bike, Setup
from gearfit.records.results import Speedometer
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.rules import rule
from gearfit.units import MPS_PER_KMH
from tests.findings.conftest import BIKE, SETUPS
from tests.findings.test_speedometer import RULE, dash
from tests.outside import outside_data
from tests.simulator.files import write_track
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machines import old_five_speed
from tests.simulator.recorder import observe_track
from tests.simulator.scripts import hold_plan, holds_only


def test_a_receiver_against_a_tactical_grade_reference_is_an_instrument_without_error() -> None:
    """google/gps-measurement-tools, NmeaUtils/example, Apache-2.0: one drive, receiver and reference at 1 Hz.

    Receiver speed / reference speed 0.9997 (+- 0.0005) was counted apart from this project's code; every checksum of
    the reference is wrong. With an offset left free the gain is 1.0015 +- 0.0005 and the offset -0.07 km/h, which
    at the speeds of this drive is that same ratio.
    """
    data = outside_data("gnss_nmea")
    receiver = read_log(next(data.glob("*.nmea")))
    reference = read_log(next(data.glob("*.gga")), options=ReadOptions(accept_bad_checksums=True))
    samples = receiver.samples.copy()
    samples["indicated_mps"] = samples["speed_mps"]
    as_dash = replace(receiver, samples=samples, speed_source="speedometer", kind="log")
    gathered = gather_pairs(Bike(), Setup("drive"), [as_dash, reference], None, False)
    assert gathered is not None
    found = judge(gathered, rule(None))
    assert isinstance(found, Speedometer)
    at_40_kmh, *_ = found.at
    assert at_40_kmh.indicated_mps.value / at_40_kmh.true_mps == pytest.approx(0.9997, abs=0.0005)
    assert found.gain.value == pytest.approx(1.0, abs=0.002)
    assert abs(found.offset_mps.value) < 0.1 * MPS_PER_KMH
    assert found.lag_s is not None
    assert abs(found.lag_s.value) < 0.1


def test_one_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "dash.csv"
    path.write_text(dash(1.05), encoding="utf-8")
    assert main(["speedometer", str(path), "--regulation", "UNECE R39"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("dash.csv: within (UNECE R39)\n")
    assert "  Card for the dash:\n" in printed
    assert "Law differs from place to place" in printed
    assert main(["speedometer", str(path), "--regulation", "49 CFR 393.82", "--units", "mph"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("dash.csv: within (49 CFR 393.82)\n")
    assert "  49.7 " in printed


def test_a_misread_row_and_the_corrector_at_round_speeds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "dash.csv"
    pairs = "20,17.4 30,26.9 40,35.9 60,46.0 60,55.0 70,65.1 80,74.0 90,83.9 100,93.1 110,103.2"
    path.write_text("indicated_kmh,gps_kmh\n" + pairs.replace(" ", "\n") + "\n", encoding="utf-8")
    assert main(["speedometer", str(path), "--regulation", "UNECE R39"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.startswith("dash.csv: within (UNECE R39) ")
    assert "- Out of line with the other readings and left aside: dash.csv line 5." in printed
    assert "A pulse corrector set to 0.9" in printed
    assert "shows no less than the true speed, within the 95 % interval, at the speeds of the readings" in printed
    path.write_text("indicated_kmh,gps_kmh\n40,40.2\n60,59.8\n80,80.1\n100,99.8\n", encoding="utf-8")
    assert main(["speedometer", str(path)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert (
        "Pulse corrector: no corrector is advised: at every speed the 95 % interval of the error holds zero." in printed
    )


def test_highest_speed_and_production(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "dash.csv"
    path.write_text(dash(1.12, 4.0), encoding="utf-8")
    rule_39 = ["speedometer", str(path), "--regulation", "UNECE R39"]
    assert main([*rule_39, "--max-speed", "130"]) == 0
    printed = capsys.readouterr().out
    assert "  104.0 " in printed
    assert printed.startswith("dash.csv: outside (UNECE R39)\n")
    assert main([*rule_39, "--production", "L3"]) == 0
    assert capsys.readouterr().out.startswith("dash.csv: within (UNECE R39)\n")
    assert main([*rule_39, "--max-speed", "2"]) == 1
    assert capsys.readouterr().err == (
        "gearfit: --max-speed: found 2; allowed is 10 to 500. Give the speed in the unit chosen.\n"
    )


def test_a_folder_tells_the_pick_up_and_the_odometer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bike.toml").write_text(BIKE + SETUPS + RULE, encoding="utf-8")
    for setup, gain in (("before", 1.02), ("after", 1.02 * 16 / 15)):
        (tmp_path / setup).mkdir()
        (tmp_path / setup / "dash.csv").write_text(dash(gain), encoding="utf-8")
    odometer = "odometer_start_km,odometer_end_km,odometer_true_km\n100.0,204.0,100.0\n"
    (tmp_path / "before" / "odometer.csv").write_text(odometer, encoding="utf-8")
    assert main(["speedometer", str(tmp_path)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.startswith("before: within (UNECE R39) ")
    assert " after: within (UNECE R39) " in printed or " after: cannot tell yet " in printed
    assert "So it is driven from the gearbox output." in printed
    assert "before: over 100.0 km in 1 ride the odometer counted +4.0" in printed
    assert main(["speedometer", str(tmp_path / "before" / "dash.csv")]) == 0
    assert capsys.readouterr().out.startswith("dash.csv: within (UNECE R39)\n")
    assert main(["speedometer", str(tmp_path / "before" / "odometer.csv")]) == 0
    assert "the odometer counted +4.0" in " ".join(capsys.readouterr().out.split())


def test_under_reading_is_said_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "dash.csv"
    path.write_text(dash(0.94), encoding="utf-8")
    assert main(["speedometer", str(path)]) == 0
    assert "  It shows less than the true speed: you ride faster than the dash says." in capsys.readouterr().out


def test_nothing_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "holds.csv"
    path.write_text("gear,rpm,speed_kmh\n3,5000,60\n4,5000,75\n", encoding="utf-8")
    assert main(["speedometer", str(path)]) == 1
    captured = capsys.readouterr()
    assert captured.out == (
        "holds.csv: nothing can be said of the speedometer: it holds no shown speeds (a column indicated_kmh or "
        "indicated_mph)\n\n"
    )
    assert captured.err == (
        f"gearfit: {path}: no speedometer can be judged. Add a sheet with the columns indicated_kmh and gps_kmh, ten "
        "steady readings spread over the speeds.\n"
    )


def test_the_report_takes_the_rule(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    (tmp_path / "before" / "dash.csv").write_text(dash(1.05), encoding="utf-8")
    assert main(["report", str(tmp_path), "--regulation", "UNECE R39"]) == 0
    results = json.loads((tmp_path / "report" / "results.json").read_text("utf-8"))
    told = results["setups"]["before"]["speedometer"]
    assert sorted(told) == ["at", "correction_factor", "gain", "offset_mps", "verdict"]
    assert told["verdict"] == "within"
    assert told["correction_factor"] == pytest.approx(1 / told["gain"]["value"])
    assert [point["allowed_hi_mps"] * 3.6 for point in told["at"]] == pytest.approx([48, 92, 136])
    page = (tmp_path / "report" / "report.html").read_text("utf-8")
    assert "Card for the dash" in page
    assert 'id="speedometer-error"' in page


def test_shown_speeds_beside_a_track_are_enough_for_a_report(tmp_path: Path) -> None:
    machine = old_five_speed("before")
    plan = hold_plan(machine, (0.35, 0.55), (2, 3, 4, 5))
    ride = holds_only(np.random.default_rng(2), machine, plan=plan, hold_s=12.0)
    track = observe_track(ride, SpeedChannel(rate_hz=1.0), np.random.default_rng(3)).recording
    write_track(track, tmp_path / "before" / "ride.gpx")
    shown = [f"{k},{1.06 * machine.held_speed_mps(rpm, gear) * 3.6 + 1:.0f}" for k, (gear, rpm) in enumerate(plan, 1)]
    (tmp_path / "before" / "dash.csv").write_text("repeat,indicated_kmh\n" + "\n".join(shown) + "\n", encoding="utf-8")
    analysis = gearfit.analyse(gearfit.read_folder(tmp_path), regulation="UNECE R39")
    found = analysis.setups[0].speedometer
    assert found is not None
    assert found.gain.value == pytest.approx(1.06, abs=4 * found.gain.se)
    assert found.verdict == "within"
    codes = [finding.code for finding in analysis.findings]
    assert "speedometer-verdict" in codes
    assert "recording-not-used" not in codes
