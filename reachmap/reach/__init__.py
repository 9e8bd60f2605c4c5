"""The library's objects: a reach, its maps at any flow, its days, gauge and log."""
