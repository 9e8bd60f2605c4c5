"""The site's icon, computed: a bend of river on a dark background."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

GROUND, WATER, EDGE = (13, 59, 70), (190, 226, 230), (255, 253, 246)
"""Colours of the product's own page: dark plate, pale water, paper."""

FINER = 4
"""Supersampling factor: points per side of a pixel (our choice)."""


def icon(side: int) -> bytes:
    """Return the icon as PNG.

    Parameters
    ----------
    side
        Side [px]. All of it is painted, with the motif in the middle three fifths, so that a system
        may mask it to any shape (W3C web app manifest: a mask keeps at least a circle with a radius
        of 40 % of the side; from memory).
    """
    across = (np.arange(side * FINER) + 0.5) / (side * FINER)
    x, y = np.meshgrid(across, across)
    middle = 0.5 + 0.14 * np.sin(2 * np.pi * (y - 0.5) * 1.15)
    off = np.abs(x - middle)
    shown = (y > 0.16) & (y < 0.84)
    picture = np.empty((*x.shape, 3))
    picture[:] = GROUND
    picture[shown & (off < 0.13)] = EDGE
    picture[shown & (off < 0.095)] = WATER
    mean = picture.reshape(side, FINER, side, FINER, 3).mean(axis=(1, 3))
    stream = io.BytesIO()
    Image.fromarray(np.rint(mean).astype(np.uint8)).save(stream, "PNG", optimize=True)
    return stream.getvalue()
