"""Terrain of the United States from the national elevation service, by `seamless-3dep`.

The service makes a raster of any cell size from the best survey that it has at each place; what
lies behind it may be coarser than what is asked for, and it doesn't say from when it is.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import warnings
from pathlib import Path

import numpy as np
from rasterio.errors import RasterioError

from reachmap.base.rasters import open_raster
from reachmap.base.safe_files import RefusedError
from reachmap.online.box import Box
from reachmap.online.free_names import free_name
from reachmap.online.libraries import failures, library
from reachmap.online.model import (
    AskError,
    Fetching,
    Got,
    Kind,
    Offer,
    Service,
    Why,
    first_line,
)

HOST = "elevation.nationalmap.gov"

CELLS_M = (1, 3, 10)
"""Cell sizes that are offered [m] (our choice): lidar, its thinning, the nationwide model."""

PIECE_PIXELS = 2_000_000
"""Largest piece that is fetched at once [pixels], 8 MB (our choice, 1 to 8 million): what is whole
stays when the rest is cut short. The library allows 8 million."""

PROBE_CELLS = 24
"""Cells along the shorter side of the raster by which coverage is found (our choice)."""

LOWEST_M, HIGHEST_M = -500.0, 9000.0
"""Heights outside these are marks for none [m]."""

DATUM = "NAVD88"
"""Vertical datum of the service's heights in the conterminous states; from memory."""

LICENCE = "public domain (US federal work)"

BYTES = 4
"""A height takes so many [bytes]: the service sends single floats."""

ERRORS = ("tiny_retriever.exceptions.ServiceError", "tiny_retriever.exceptions.InputTypeError")


def offers(box: Box) -> list[Offer]:
    """Return what the service has over a box, finest first.

    One small raster is asked for, to see whether there are heights at all.

    Raises
    ------
    AskError
        If the library is missing, the service does not answer, or it has no heights there.
    """
    client = library("seamless_3dep")
    side = min(box.sides_km) * 1000
    with tempfile.TemporaryDirectory() as folder:
        found = _piece(client, box.bounds, max(round(side / PROBE_CELLS), 1), Path(folder))
        if not _has_heights(found):
            raise AskError(Why.NOTHING_HERE)
    made = []
    for cell in CELLS_M:
        pieces, wide, high = client.decompose_bbox(box.bounds, cell, PIECE_PIXELS)
        made.append(
            Offer(
                f"terrain-{cell}m", Kind.TERRAIN, Service.TERRAIN, "3D Elevation Program", HOST,
                size_bytes=float(len(pieces) * wide * high * BYTES), resolution_m=float(cell),
                vertical_datum=DATUM, licence=LICENCE, ask={"cell": cell},
            )
        )  # fmt: skip
    return made


def fetch(offer: Offer, how: Fetching) -> Got:
    """Fetch the pieces of a raster; those that are whole from an earlier time are kept.

    Raises
    ------
    AskError
        If the service gives up; the pieces that came stay aside.
    """
    client = library("seamless_3dep")
    cell = int(offer.ask["cell"])
    boxes, _, _ = client.decompose_bbox(how.box.bounds, cell, PIECE_PIXELS)
    pieces: list[Path] = []
    for number, box in enumerate(boxes, start=1):
        how.hear(number - 1, len(boxes))
        kept = how.aside / _piece_name(box, cell)
        if not kept.is_file():
            with tempfile.TemporaryDirectory(dir=how.aside) as folder:
                whole = _piece(client, box, cell, Path(folder))
                _has_heights(whole)  # what is no raster does not count as whole
                whole.replace(kept)
        pieces.append(kept)
    how.hear(len(boxes), len(boxes))
    mark = hashlib.sha256(repr(how.box.bounds).encode()).hexdigest()[:4]  # another box, other files
    files = []
    for number, piece in enumerate(pieces, start=1):
        part = f"-{number}" if len(pieces) > 1 else ""
        target = free_name(how.folder, f"ground-3dep-{cell}m-{mark}{part}.tif")
        shutil.copyfile(piece, how.aside / "moving")
        (how.aside / "moving").replace(target)
        files.append(target)
    address = f"https://{HOST}/arcgis/rest/services/3DEPElevation/ImageServer"
    return Got(offer, tuple(files), address)


def _piece_name(box: tuple[float, float, float, float], cell: int) -> str:
    """Return under which name a whole piece waits."""
    return f"piece-{cell}m-" + "_".join(f"{one:.6f}" for one in box) + ".tif"


def _piece(client: object, box: tuple[float, float, float, float], cell: int, folder: Path) -> Path:
    """Return a raster that the service made, in one piece.

    Raises
    ------
    AskError
        If it does not come.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            [path] = client.get_map(  # type: ignore[attr-defined]
                "DEM", box, folder, res=cell, pixel_max=None
            )
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    return Path(path)


def _has_heights(path: Path) -> bool:
    """Return whether a raster holds any height.

    Raises
    ------
    AskError
        If what came is no raster: the service's word instead, as a page or as JSON.
    """
    try:
        with open_raster(path) as source:
            read = source.read(1, masked=True).astype(np.float64).filled(np.nan)
    except (RefusedError, RasterioError, OSError) as error:
        raise AskError(Why.NO_ANSWER, f"no raster came ({first_line(error)})") from None
    with np.errstate(invalid="ignore"):
        return bool(((read > LOWEST_M) & (read < HIGHEST_M) & (read != 0)).any())
