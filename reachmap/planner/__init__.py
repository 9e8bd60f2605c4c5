"""Which day and which run."""
