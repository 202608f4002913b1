"""Which gear when: known ladders, unknown ones, and the path through them."""
