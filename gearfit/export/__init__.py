"""Results for other programs: tidy tables (CSV, Parquet) and tracks with gears and runs (GPX)."""
