"""Words, units, CRS, grid, river line, schema, faults, cache, paths."""
