"""Predictions, plans and swaps in words."""
