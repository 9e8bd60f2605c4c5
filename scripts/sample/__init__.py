"""The made-up river: its true shape, and what an angler would have drawn of it."""
