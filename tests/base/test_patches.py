"""Patches of cells against scipy's own propagation and scikit-image's removal of small ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.ndimage import binary_propagation
from skimage.morphology import remove_small_objects

from reachmap.base.patches import EIGHT, FOUR, joined_to, on_border, patch_sizes

MASKS = arrays(bool, (7, 9), elements=st.booleans())
CORNERS = np.array([[1, 1, 0, 0, 1], [0, 0, 1, 0, 1], [1, 0, 0, 0, 0]], bool)


@given(MASKS, MASKS, st.sampled_from([FOUR, EIGHT]))
def test_what_is_joined_is_what_spreads_from_the_seeds(seeds, mask, structure):
    spread = binary_propagation(seeds & mask, structure, mask=mask)
    assert (joined_to(seeds, mask, structure) == spread).all()


@given(MASKS, st.integers(1, 8), st.sampled_from([1, 2]))
def test_sizes_part_patches_as_scikit_image_does(mask, least, connectivity):
    sizes = patch_sizes(mask, EIGHT if connectivity == 2 else FOUR)
    kept = remove_small_objects(mask, max_size=least - 1, connectivity=connectivity)
    assert ((mask & (sizes >= least)) == kept).all()
    assert (sizes[~mask] == 0).all()


@pytest.mark.parametrize(
    ("structure", "sizes"),
    [
        (FOUR, [[2, 2, 0, 0, 2], [0, 0, 1, 0, 2], [1, 0, 0, 0, 0]]),
        (EIGHT, [[3, 3, 0, 0, 2], [0, 0, 3, 0, 2], [1, 0, 0, 0, 0]]),
    ],
)
def test_corners_count_with_eight_neighbours_alone(structure, sizes):
    assert patch_sizes(CORNERS, structure).tolist() == sizes


def test_the_border_is_the_outermost_ring():
    assert on_border((3, 4)).sum() == 10
    assert not on_border((3, 4))[1, 1:3].any()
    assert on_border((1, 4)).all()
