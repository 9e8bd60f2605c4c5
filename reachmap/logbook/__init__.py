"""Floor 6: what was learned on the water, kept for good."""
