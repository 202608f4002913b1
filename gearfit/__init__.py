"""Motorcycle gearing from ride logs, before and after."""
