"""What is wet, dry and unknown beside the water, against a plain working over the whole raster."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from reachmap.base.words import Wet
from reachmap.flow.engine.answer import _wet_codes
from reachmap.flow.engine.cells import Frame

pytestmark = pytest.mark.compiled


def frame_of(bed, inside):
    none = np.zeros(bed.shape)
    return Frame(np.where(inside, bed, np.nan), none + 0.03, none, none, inside, 0.0, 9.0, 1.0)


def plainly(frame, wet, level):
    """The same rule with a distance transform, and labels for what is joined to the water."""
    nearest = ndimage.distance_transform_edt(~wet, return_distances=False, return_indices=True)
    low = frame.inside & (np.nan_to_num(frame.bed, nan=np.inf) < level[tuple(nearest)])

    def joined(mask):
        labels, _ = ndimage.label(mask)
        return np.isin(labels, np.unique(labels[wet])) & mask

    perhaps, sure = joined(low | ~frame.inside | wet), joined(low | wet)
    codes = np.where(~frame.inside | (perhaps & ~sure), Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    codes[wet] = Wet.YES
    return codes


@pytest.mark.parametrize("seed", range(12))
def test_codes_are_those_of_a_distance_transform_and_two_floods(seed):
    rng = np.random.default_rng(seed)
    bed = ndimage.gaussian_filter(rng.standard_normal((60, 90)), 1.5) * 4
    inside = ndimage.gaussian_filter(rng.standard_normal(bed.shape), 2) > -0.1
    inside[[0, -1]] = inside[:, [0, -1]] = False
    wet = inside & (ndimage.gaussian_filter(rng.standard_normal(bed.shape), 2) > 0.12)
    level = np.where(wet, bed + rng.random(bed.shape), np.nan)
    frame, (row, col) = frame_of(bed, inside), np.nonzero(wet)
    shuffled = rng.permutation(row.size)
    row, col = row[shuffled].astype(np.int32), col[shuffled].astype(np.int32)
    found = _wet_codes(frame, row, col, level[row, col])
    assert np.array_equal(found, plainly(frame, wet, level))
    assert all((found == code).any() for code in (Wet.YES, Wet.NO, Wet.UNKNOWN))


def test_low_ground_far_off_behind_unknown_ground_is_unknown():
    bed, inside = np.full((5, 300), -1.0), np.zeros((5, 300), dtype=bool)
    inside[1:4, 1:6] = inside[1:4, 250:298] = True
    bed[:, 270:] = 3.0
    wet = np.zeros(inside.shape, dtype=bool)
    wet[2, 1:5] = True
    row, col = (one.astype(np.int32) for one in np.nonzero(wet))
    level = np.where(wet, 0.5, np.nan)
    found = _wet_codes(frame_of(bed, inside), row, col, level[row, col])
    assert np.array_equal(found, plainly(frame_of(bed, inside), wet, level))
    assert (found[1:4, 250:270] == Wet.UNKNOWN).all()
    assert (found[1:4, 270:298] == Wet.NO).all()
    assert found[1, 1] == Wet.NO  # open to the water itself: it was solved, and is dry


def test_without_water_all_known_ground_is_dry():
    inside = np.zeros((4, 5), dtype=bool)
    inside[1:3, 1:4] = True
    none = np.zeros(0, np.int32)
    found = _wet_codes(frame_of(np.zeros((4, 5)), inside), none, none, np.zeros(0))
    assert np.array_equal(found, np.where(inside, Wet.NO, Wet.UNKNOWN))
