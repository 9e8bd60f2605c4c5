"""Shapefiles packed as one ZIP, unpacked no further than the page would take."""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from reachmap.base.safe_files import RefusedError
from reachmap.base.vectors import SHAPEFILE_PARTS
from reachmap.web.security import MOST_BYTES

MOST_SHAPEFILES = 20
"""Shapefiles taken from one ZIP at the most (our choice)."""

UNPACKABLE = (
    *(zipfile.BadZipFile, zlib.error, NotImplementedError),
    *(OSError, RuntimeError, EOFError, ValueError),
)
"""What a file that only calls itself ZIP may raise."""


def unpacked_shapefiles(body: bytes, folder: Path) -> list[Path]:
    """Write the shapefiles of a ZIP into an empty folder and return their paths.

    Names inside the ZIP never become paths: each set of parts gets its bare stem.

    Raises
    ------
    RefusedError
        If it is no ZIP, holds no shapefile, or too much.
    """
    kinds = {".shp", *SHAPEFILE_PARTS}
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            parts = {
                name: PurePosixPath(name.replace("\\", "/").lower())
                for name in packed.namelist()
                if PurePosixPath(name.lower()).suffix in kinds and "__macosx" not in name.lower()
            }
            left, shapes = MOST_BYTES, []
            for name, part in parts.items():
                with packed.open(name) as stream:
                    content = stream.read(left + 1)
                left -= len(content)
                if left < 0:
                    msg = "it is too large unpacked"
                    raise RefusedError(msg, "Take out of it what the reach does not need")
                stem = "".join(
                    sign if sign.isalnum() or sign in " -_" else "_" for sign in part.stem
                )
                target = folder / f"{stem[:80] or 'shape'}{part.suffix}"
                target.write_bytes(content)
                if part.suffix == ".shp":
                    shapes.append(target)
    except UNPACKABLE:
        msg = "it is no ZIP"
        raise RefusedError(msg, "Pack the .shp, .shx, .dbf and .prj as one ZIP") from None
    if not 0 < len(shapes) <= MOST_SHAPEFILES:
        msg = f"{len(shapes)} shapefiles are in it"
        raise RefusedError(msg, f"Pack 1 to {MOST_SHAPEFILES}, each with its .shx, .dbf and .prj")
    return sorted(shapes)
