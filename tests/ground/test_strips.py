"""A filter over the corridor in strips gives what it gives over the whole grid."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from reachmap.base.grid import Grid
from reachmap.ground import corridor as module
from reachmap.ground.corridor import Corridor


@pytest.mark.parametrize("strip", [7, 20, 256])
def test_strips_of_a_slanting_corridor_filter_as_the_whole_does(monkeypatch, strip):
    """The whole raster's own filter, in scipy, is the value checked against."""
    monkeypatch.setattr(module, "STRIP", strip)
    rows, cols = np.mgrid[:90, :130]
    inside = (np.abs(cols - 1.3 * rows - 4) < 9) & (rows != 40)
    corridor = Corridor.of(Grid.at_corner(0.0, 180.0, 2.0, inside.shape, "EPSG:32607"), inside)
    values = np.random.default_rng(3).normal(size=corridor.row.size)
    whole = gaussian_filter(corridor.spread(values, 0.0), 1.5, mode="reflect", truncate=3.0)
    found = []
    for part_of, part, mine in corridor.strips(5):
        made = gaussian_filter(part.spread(values[part_of], 0.0), 1.5, mode="reflect", truncate=3.0)
        found.append(made[part.row[mine], part.col[mine]])
    np.testing.assert_array_equal(np.concatenate(found), whole[inside])
    if strip < 90:
        assert max(one.grid.shape[1] for _, one, _ in corridor.strips(5)) < inside.shape[1]
