"""One setup against another."""
