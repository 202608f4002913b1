"""Writes test cards and sheets into a ride folder; nothing that a rider may have filled in is overwritten."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from gearfit.errors import FolderError
from gearfit.prediction.planning.plan import Plan
from gearfit.report.card.page import card_text
from gearfit.report.card.sheets import holds_sheet, runs_sheet
from gearfit.whole_files import write_own, write_whole

#: Folder of everything that is made anew each time.
CARDS: Final = "report"
HOLDS: Final = "planned_holds.csv"
RUNS: Final = "planned_runs.csv"


def write_card(plan: Plan, folder: Path, unit: str) -> tuple[list[Path], list[Path]]:
    """Write a card for each setup into `report/`, and its sheets into the setup's own folder where it lacks rides.

    Parameters
    ----------
    plan : Plan
        What to ride; the sheet of held engine speeds is left out where a log takes its place.
    folder : pathlib.Path
        The ride folder.
    unit : {"kmh", "mph"}
        Of every speed.

    Returns
    -------
    (list of pathlib.Path, list of pathlib.Path)
        Files written, and sheets that were there already and stayed as they are.

    Raises
    ------
    FolderError
        The folder cannot be written to.
    """
    written: list[Path] = []
    kept: list[Path] = []
    try:
        for setup in plan.setups:
            card = folder / CARDS / f"test_card_{setup}.html"
            written.append(write_own(card, card_text(plan, unit, setup), "plan " + setup))
            for name, text in _sheets(plan, unit, setup).items():
                sheet = folder / setup / name
                if sheet.exists():
                    kept.append(sheet)
                    continue
                written.append(write_whole(sheet, text))
    except OSError as error:
        raise FolderError(
            str(folder), f"cannot be written to ({error.strerror})", "Check the path and its permissions"
        ) from error
    return written, kept


def _sheets(plan: Plan, unit: str, setup: str) -> dict[str, str]:
    if plan.ridden and not any(line.startswith(f"{setup}: ") for line in plan.missing):
        return {}
    sheets = {RUNS: runs_sheet(plan, unit)}
    return {HOLDS: holds_sheet(plan, unit), **sheets} if plan.noise.kind == "display" else sheets
