"""Patches of cells against scipy's own propagation and scikit-image's removal of small ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.ndimage import (
    binary_dilation,
    binary_erosion,
    binary_propagation,
    distance_transform_edt,
)
from skimage.morphology import remove_small_objects

from reachmap.base import patches
from reachmap.base.patches import (
    EIGHT,
    FOUR,
    Patches,
    cells_of,
    joined_to,
    narrowed,
    nearest_cells,
    on_border,
    patch_sizes,
    widened,
)

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


@given(MASKS, MASKS, st.sampled_from([FOUR, EIGHT]))
def test_patches_numbered_once_say_the_same(seeds, mask, structure):
    found = Patches.of(mask, structure)
    assert (found.sizes[found.labels] == patch_sizes(mask, structure)).all()
    joined = found.holding(seeds)[found.labels]
    assert (joined == joined_to(seeds & mask, mask, structure)).all()


@given(MASKS)
def test_a_mask_is_widened_and_narrowed_as_by_scipy(mask):
    assert (widened(mask) == binary_dilation(mask, FOUR)).all()
    assert (narrowed(mask) == binary_erosion(mask, FOUR)).all()


@given(MASKS, st.sampled_from([None, 0, 2, 4, 40]), st.sampled_from([1, 3, 32]))
def test_the_nearest_cell_is_that_of_the_distance_transform(mask, reach, rings):
    rows, cols = cells_of(np.ones(mask.shape, bool))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(patches, "RINGS", rings)
        away, row, col = nearest_cells(mask, rows, cols, reach)
    if not mask.any():
        assert np.isinf(away).all()
        return
    far, near = distance_transform_edt(~mask, return_indices=True)
    within = far.ravel() <= (np.inf if reach is None else reach)
    assert (away[within] == far.ravel()[within]).all()
    assert (row[within] == near[0].ravel()[within]).all()
    assert (col[within] == near[1].ravel()[within]).all()
    assert np.isinf(away[~within]).all()
    assert (row[~within] == rows[~within]).all()


def test_the_border_is_the_outermost_ring():
    assert on_border((3, 4)).sum() == 10
    assert not on_border((3, 4))[1, 1:3].any()
    assert on_border((1, 4)).all()
