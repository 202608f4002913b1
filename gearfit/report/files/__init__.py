"""The files written: tables, results.json, tracks, and how they take their places."""
