"""Levels of gears with their errors: noise, steps, offsets, readings of sheets, circumference."""
