"""Thinning against scikit-image's, an independent implementation, cell by cell."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage
from skimage.measure import euler_number
from skimage.morphology import thin

from reachmap.water.thinning import thinned


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("smooth", [0.0, 1.0, 3.0])
def test_it_is_what_an_independent_implementation_gives(seed, smooth):
    noise = np.random.default_rng(seed).normal(size=(90, 120))
    mask = ndimage.gaussian_filter(noise, smooth) > 0
    assert np.array_equal(thinned(mask), thin(mask))


def test_a_braided_band_keeps_its_pieces_and_holes():
    x, y = np.meshgrid(np.arange(300), np.arange(120))
    band = np.abs(y - 60 - 20 * np.sin(x / 30)) < 14
    for row, col in ((60, 80), (75, 150), (45, 240)):
        band &= ~(((y - row) / 5) ** 2 + ((x - col) / 12) ** 2 < 1)
    lines = thinned(band)
    assert euler_number(lines, connectivity=2) == euler_number(band, connectivity=2)
    assert lines.sum() < 0.1 * band.sum()
    assert not (lines & ~band).any()


@pytest.mark.parametrize(
    "mask", [np.zeros((5, 7), bool), np.ones((1, 1), bool), np.ones((4, 9), bool)]
)
def test_small_and_empty_masks_and_the_frame_s_edge(mask):
    assert np.array_equal(thinned(mask), thin(mask))


def test_the_mask_given_stays_as_it_was():
    mask = np.ones((9, 9), bool)
    thinned(mask)
    assert mask.all()
