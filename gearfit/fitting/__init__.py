"""Which gear, how fast in it, and how surely."""
