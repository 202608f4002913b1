"""Which speed belongs to which engine speed: channels, clocks, lag."""
