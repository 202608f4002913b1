"""What tooth counts, tyre and chain lead one to expect."""
