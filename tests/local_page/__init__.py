"""The pages of `gearfit open`."""
