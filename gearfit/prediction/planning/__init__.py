"""Plans the test: which runs can show the change, and what is still missing after a ride."""
