"""Unknown ground beside water, cell by cell."""

import numpy as np
from scipy.ndimage import binary_dilation

from reachmap.base.words import Wet
from reachmap.pipeline.report import _touching_water


def test_what_touches_water_by_side_or_corner_and_is_not_known_counts():
    chance = np.random.default_rng(2)
    wet = chance.choice([Wet.YES, Wet.NO, Wet.UNKNOWN], (30, 21), p=[0.1, 0.3, 0.6])
    wet = wet.astype(np.uint8)
    wet[0, 0] = wet[-1, -1] = Wet.YES  # at corners of the raster too
    touched = binary_dilation(wet == Wet.YES, np.ones((3, 3), dtype=bool))
    assert (_touching_water(wet) == (touched & (wet == Wet.UNKNOWN))).all()
