"""Trips and what they teach."""
