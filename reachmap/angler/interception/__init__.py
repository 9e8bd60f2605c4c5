"""The score of runs: relative odds that this person's fly meets a fish, per river."""
