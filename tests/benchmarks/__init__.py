"""Programs that time the code, run by hand; their figures stand in their heading."""
