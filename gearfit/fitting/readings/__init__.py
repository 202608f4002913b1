"""Readings of sheets: rows and their scatter, steps, which do not belong, levels."""
