"""Predictions and plans as plain text for a terminal, and as JSON for programs; computes nothing."""
