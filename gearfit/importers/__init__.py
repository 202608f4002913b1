"""Readers: one file for each format behind `read_log`, and the ride folder."""
