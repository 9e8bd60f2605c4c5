"""The one score: where this person's fly meets a fish, as relative odds on this river."""
