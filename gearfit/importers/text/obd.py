"""Raw OBD-II answers in hexadecimal: mode 01, engine speed (0C) and vehicle speed (0D), scaled as SAE J1979 has it.

An answer to mode 01 begins with 41 (mode + 40 hex). Engine speed is (256 A + B) / 4 rev/min, vehicle speed A km/h.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import pandas as pd

from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.table import Table
from gearfit.units import MPS_PER_KMH

_BYTE: Final = r"\s*([0-9A-F]{2})"
_SKIPPED: Final = r"\s*[0-9A-F]{2}"
#: What may stand before the answer: an 11-bit or 29-bit identifier with the length, or three bytes of an older header.
_BEFORE: Final = r"^>?\s*(?:7E[89A-F]\s*0[2-7]\s*|18\s*DA\s*F1\s*[0-9A-F]{2}\s*0[2-7]\s*|48\s*6B\s*[0-9A-F]{2}\s*)?41"
_RPM: Final = rf"{_BEFORE}(?:\s*0D{_SKIPPED})?\s*0C{_BYTE}{_BYTE}"
_SPEED: Final = rf"{_BEFORE}(?:\s*0C{_SKIPPED}{_SKIPPED})?\s*0D{_BYTE}"
#: Rank of a speed that the machine itself says, as in `gearfit.importers.common.headers`.
_MACHINE_RANK: Final = 2


def with_obd_decoded(table: Table) -> Table:
    """Return the table with a column of raw answers replaced by one of engine speed and one of speed."""
    columns = {meaning.channel: (number, meaning) for number, meaning in enumerate(table.meanings) if meaning}
    if "obd" not in columns:
        return table
    raw, said = columns["obd"]
    answers = table.cells[raw].str.upper()
    rpm, speed = answers.str.extract(_RPM), answers.str.extract(_SPEED)
    cells = table.cells.copy()
    width = len(table.meanings)
    cells[width] = _decimal((256 * _whole(rpm[0]) + _whole(rpm[1])) / 4)
    cells[width + 1] = _decimal(_whole(speed[0]))
    found = (
        *(None if n == raw else meaning for n, meaning in enumerate(table.meanings)),
        Meaning(f"{said.header}, PID 0C", "engine_rpm", "rpm", 1.0, 0),
        Meaning(f"{said.header}, PID 0D", "speed_mps", "km/h", MPS_PER_KMH, _MACHINE_RANK, "machine"),
    )
    other = int(((answers != "") & rpm[0].isna() & speed[0].isna()).sum())
    notes = (f"{other} OBD-II answers that are neither engine speed (41 0C) nor speed (41 0D) not used.",)
    return replace(table, meanings=found, cells=cells, notes=table.notes + (notes if other else ()))


def _whole(digits: pd.Series[str]) -> pd.Series[float]:
    values = {text: float(int(text, 16)) for text in digits.dropna().unique()}
    return digits.map(values).astype("float64")


def _decimal(values: pd.Series[float]) -> pd.Series[str]:
    return values.map(lambda value: "" if value != value else f"{value:.10g}").astype("str")
