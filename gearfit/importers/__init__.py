"""Readers: one file for each format behind `read_log`, and the ride folder."""

from gearfit.importers.common.options import ReadOptions
from gearfit.importers.describe import describe
from gearfit.importers.folder import options_near, read_folder, report_folder, results_folder
from gearfit.importers.formats import read_log, sheets_of

__all__ = [
    "ReadOptions",
    "describe",
    "options_near",
    "read_folder",
    "read_log",
    "report_folder",
    "results_folder",
    "sheets_of",
]
