"""Floor 6: which day, which run."""
