"""Rows of a section's table found by level, against the reference library's search."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.flow._kernels import rows_below, rows_up_to


@pytest.mark.parametrize("size", [1, 2, 7, 40])
def test_rows_are_counted_as_in_the_library(size):
    rng = np.random.default_rng(size)
    level = np.sort(rng.integers(0, 12, size).astype(np.float64))  # some stand twice
    for height in (*np.arange(-1.0, 13.0, 0.5), np.nan, np.inf, -np.inf):
        assert rows_below(level, height) == np.searchsorted(level, height)
        assert rows_up_to(level, height) == np.searchsorted(level, height, side="right")
