"""Speedometer and odometer: how far off the instrument is, and whether a rule allows it."""
