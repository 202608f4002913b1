"""Readers: one file for each format behind `read_log`, and the ride folder."""

from gearfit.importers.describe import describe
from gearfit.importers.folder import read_folder
from gearfit.importers.formats import read_log

__all__ = ["describe", "read_folder", "read_log"]
