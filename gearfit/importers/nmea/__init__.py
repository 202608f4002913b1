"""NMEA 0183 sentences of a satellite receiver, read in columns."""

from gearfit.importers.nmea.read import read_nmea
from gearfit.importers.nmea.sentences import is_nmea

__all__ = ["is_nmea", "read_nmea"]
