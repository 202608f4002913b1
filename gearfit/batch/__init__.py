"""`gearfit batch`: every ride folder below a root, in parallel, resumable, and one table over all of them."""
