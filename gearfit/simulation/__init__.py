"""Invented rides with known truth, for demonstration and validation."""
