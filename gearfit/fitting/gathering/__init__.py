"""What a setup offers to the fit, its recordings paired."""
