"""The angler's own aerial picture as a basemap, within the remaining size budget of the page."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image
from rasterio.errors import RasterioError
from scipy import ndimage

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.imagery import imagery_over
from reachmap.base.language import tr
from reachmap.base.picture import MapPicture
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import RefusedError
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.text.map_page import NO_ROOM, NOT_HERE

FINEST_M = 0.25
"""Smallest pixel on the ground [m]: boulders are visible; our choice, 0.15-0.5."""

MOST_PIXELS, MOST_SIDE = 8_000_000, 16_000
"""Most pixels, 32 MB once decoded, and most on a side: WebP allows 16,383."""

QUALITY = 58
"""Of the picture's compression, 0 to 100."""

BASE64 = 4 / 3
"""Growth of a size by base64 (RFC 4648, section 4)."""

LEAST_BYTES = 100_000
"""Least room on the page for the picture [bytes in base64]; with less it is left out."""

TRIES = 5
"""Most times the picture is made coarser."""

BEYOND_M = 40.0
"""Margin of the picture beyond the mapped ground [m]; our choice, 20-100."""


@dataclass(frozen=True, slots=True)
class Underlay:
    """A picture drawn below the water, and a note on it.

    `picture` is None where there is none or no room for it.
    """

    picture: MapPicture | None = None
    note: str = ""


def underlay(product: Product, page: PageGrid, room_bytes: int) -> Underlay:
    """Return the aerial picture of a product, as fine as the page has room for.

    Parameters
    ----------
    product
        The built reach; `markup.imagery` is its picture.
    page
        The page's grid.
    room_bytes
        Room for the picture on the page, in base64 [bytes].

    Raises
    ------
    MarkupError
        If the file cannot be read.
    """
    path = product.markup.imagery
    if path is None:
        return Underlay()
    if room_bytes < LEAST_BYTES:
        return Underlay(note=tr(NO_ROOM))
    west, south, east, north = page.grid.bounds
    area, longest = (east - west) * (north - south), max(east - west, north - south)
    cell = max(FINEST_M * page.scale, math.sqrt(area / MOST_PIXELS), longest / MOST_SIDE)
    for _ in range(TRIES):
        picture = _made(product, path, page.cut_to(page.grid.bounds, cell))
        if picture is None:
            return Underlay(note=tr(NOT_HERE))
        taken = len(picture.data) * BASE64
        if taken <= room_bytes:
            return Underlay(picture)
        cell *= 1.1 * math.sqrt(taken / room_bytes)
    return Underlay(note=tr(NO_ROOM))


def _made(product: Product, path: Path, page: PageGrid) -> MapPicture | None:
    """Return the picture on a grid; None where it does not cover the reach."""
    where = f"imagery {path.name}"
    try:
        colours = imagery_over(path, page.grid)
    except RefusedError as error:
        raise MarkupError([Fault(where, error.found, error.fix)]) from None
    except (RasterioError, OSError, ValueError) as error:
        found = f"it cannot be read ({quoted(str(error), 120)})"
        raise MarkupError([Fault(where, found, "Export it again, or take it out")]) from None
    known = np.isfinite(product.ground["bed"].to_numpy())
    wide = max(round(BEYOND_M / float(product.ground.attrs["cell"])), 1)
    near = ndimage.distance_transform_cdt(~known, "chessboard") <= wide
    rows, columns, inside = page.whole()
    shown = inside & near[rows, columns]
    colours[..., 3] = np.where(shown, colours[..., 3], 0)
    if not colours[..., 3].any():
        return None
    colours[colours[..., 3] == 0] = 0  # transparent pixels take no space
    stream = io.BytesIO()
    Image.fromarray(colours).save(stream, "WEBP", quality=QUALITY, method=4)
    return MapPicture.on(page.grid, stream.getvalue())
