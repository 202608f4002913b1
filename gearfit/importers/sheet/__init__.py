"""Sheets that people write: readings, runs, odometer."""
