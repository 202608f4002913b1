"""The promised chance through the whole way: plan, sheets filled in by an invented rider, folder, analysis."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.prediction.planning.noise import COARSEST_RPM, HELD_SHARE, RECEIVER_SD_MPS
from gearfit.units import MPS_PER_MPH
from tests.test_command_predict import BIKE

SETUPS = {"before": 1.0, "after": 43 / 44}
TIMES = 1500


def ride(sheet: str, factor: float, per_1000: tuple[float, ...], rng: np.random.Generator) -> str:
    """Fill in a prepared sheet: an unsteady hand, a receiver with noise, whole mph."""
    header, *rows = sheet.splitlines()
    filled = [header]
    for row in rows:
        gear, rpm = (float(cell) for cell in row.split(",")[:2])
        held = rpm * np.exp(HELD_SHARE * rng.standard_normal()) + COARSEST_RPM * rng.uniform(-0.5, 0.5)
        speed = factor * per_1000[int(gear) - 1] * held / 1000 + RECEIVER_SD_MPS * rng.standard_normal()
        filled.append(f"{row}{round(speed / MPS_PER_MPH)}")
    return "\n".join(filled) + "\n"


@pytest.mark.validation
def test_the_report_shows_as_often_as_the_plan_promises(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = BIKE.replace("rolling_circumference_mm = 1950", 'size = "140/70-17"')
    (tmp_path / "bike.toml").write_text(f"{text}[setups.before]\n[setups.after]\nrear = 44\n", "utf-8")
    assert main(["plan", str(tmp_path), "--units", "mph", "--passes", "4"]) == 0
    table = capsys.readouterr().out.split("smallest %\n")[1].split("\n4 passes")[0]
    promised = np.array([float(line.split()[4]) / 100 for line in table.splitlines()])
    bike = gearfit.read_bike(tmp_path / "bike.toml")
    now = gearfit.on_paper(bike, bike.setup("before"), "bike.toml")
    sheets = {name: (tmp_path / name / "planned_holds.csv").read_text("utf-8") for name in SETUPS}
    rng = np.random.default_rng(4)
    told = np.zeros(promised.size)
    for _ in range(TIMES):
        scale = 1 + now.relative_sd * float(rng.standard_normal())
        for name, factor in SETUPS.items():
            filled = ride(sheets[name], scale * factor, now.speed_per_1000rpm_mps, rng)
            (tmp_path / name / "planned_holds.csv").write_text(filled, "utf-8")
        analysis = gearfit.analyse(gearfit.read_folder(tmp_path), "mph")
        for gear in analysis.comparisons[0].gears:
            told[gear.gear - 1] += not gear.change_percent.contains(0.0)
    found = told / TIMES
    print(f"promised {np.round(100 * promised)}, found {np.round(100 * found, 1)}")
    assert np.max(np.abs(found - promised)) <= 0.05
