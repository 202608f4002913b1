"""Columns in the rider's own words and firing angles in bike.toml."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import BikeFileError
from gearfit.machine.bike import ColumnNames, Engine
from gearfit.machine.bike_file import read_bike


def written(folder: Path, text: str) -> Path:
    path = folder / "bike.toml"
    path.write_text(text, "utf-8")
    return path


def test_columns_and_firing(tmp_path: Path) -> None:
    bike = read_bike(
        written(
            tmp_path,
            "[engine]\ncylinders = 2\nstrokes = 4\nfiring = [270, 450]\n"
            '[columns]\nspeed = " Geschwindigkeit "\nspeed_unit = "kmh"\ntime = "Zeit"\n',
        )
    )
    assert bike.engine == Engine(cylinders=2, strokes=4, firing=(270.0, 450.0))
    assert bike.columns == ColumnNames(speed="Geschwindigkeit", speed_unit="km/h", time="Zeit")


REFUSED = {
    "[engine]\nstrokes = 2\nfiring = [360, 360]\n": (
        "engine.firing: found angles that make 720 degrees with strokes = 2; allowed are angles that make 360. "
        "Correct the value or leave the key out."
    ),
    "[engine]\ncylinders = 1\nfiring = [360, 360]\n": (
        "engine.firing: found 2 angles with cylinders = 1; allowed is one for each cylinder, or fewer where cylinders "
        "fire together. Correct the value or leave the key out."
    ),
    "[engine]\nfiring = [100, 200]\n": (
        "engine.firing: found [100, 200]; allowed are the crank angles from each firing to the next, in degrees, 720 "
        "together for four strokes and 360 for two, such as [270, 450]. Correct the value or leave the key out."
    ),
    '[columns]\nspeed = ""\n': (
        'columns.speed: found ""; allowed is a column\'s header as it stands in the log, in quotation marks. Correct '
        "the value or leave the key out."
    ),
    '[columns]\nspeed = "v"\nrpm = "V"\n': (
        'columns.rpm: found the header "V", which stands for speed too; allowed is one header for each. Correct the '
        "value or leave the key out."
    ),
    '[columns]\nspeed_unit = "furlongs"\n': (
        'columns.speed_unit: found "furlongs"; allowed is "km/h" or "mph" or "m/s" or "kn" or "ft/s". Correct the '
        "value or leave the key out."
    ),
}


@pytest.mark.parametrize("text", REFUSED)
def test_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(BikeFileError) as caught:
        read_bike(written(tmp_path, text))
    assert str(caught.value) == f"bike.toml, {REFUSED[text]}"
