"""Logs as delimited text: columns, clocks, rows."""
