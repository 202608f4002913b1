"""Writes the spreadsheets that `gearfit new` puts into a folder: `python -m tests.templates`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

PLACE = Path(__file__).resolve().parents[1] / "gearfit" / "commands" / "new_folder"


def write(path: Path, unit: str) -> None:
    """Two worksheets, one a setup, with the headers of a sheet of readings; the same bytes each time."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path)) as book:
        book.set_properties({"created": datetime(2026, 1, 1)})
        bold = book.add_format({"bold": True})
        for setup in ("before", "after"):
            sheet = book.add_worksheet(setup)
            sheet.write_row(0, 0, ["Gear", "Engine speed rpm", f"Speed {unit}"], bold)
            sheet.set_column(0, 2, 18)
            sheet.freeze_panes(1, 0)


if __name__ == "__main__":
    write(PLACE / "readings.xlsx", "km/h")
    write(PLACE / "readings_mph.xlsx", "mph")
