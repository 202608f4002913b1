"""Held engine speeds: sheets whose speeds are plateaus of a track."""
