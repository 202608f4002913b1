"""Figures and summary pictures, drawn."""
