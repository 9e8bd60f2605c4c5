"""A guide's day: who fishes which run, from which bank, when rods swap, and what else serves."""
