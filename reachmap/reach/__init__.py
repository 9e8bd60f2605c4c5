"""The library: a reach, its maps at any flow, days, gauge, log."""
