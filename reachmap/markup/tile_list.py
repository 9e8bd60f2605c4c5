"""Reader of a VRT as a list of tiles: only their file names are used.

GDAL's virtual format can refer to any file, URL or program; so its text is never passed to GDAL.
Only plain mosaics of tiles are accepted; anything that changes heights is refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

from reachmap.base.paths import OutsideError, inside
from reachmap.base.safe_files import FileKind, RefusedError, read_limited, refusal
from reachmap.base.sniff import Content, content_of

PLAIN = frozenset({"SimpleSource", "ComplexSource"})
"""Kinds of source that copy a tile's heights unchanged."""

CHANGES = frozenset({"ScaleOffset", "ScaleRatio", "LUT", "Exponent", "DstMin", "UseMaskBand"})
"""Elements of a source that change a tile's heights."""

MOST_TILES = 10_000
"""Most tiles in a list (our choice)."""

FIX = "Put the tiles themselves into the folder, or make one GeoTIFF of them"


def tiles_of(path: Path, folder: Path) -> list[Path]:
    """Return the GeoTIFF tiles of a VRT mosaic, in its order.

    Parameters
    ----------
    path
        The VRT.
    folder
        The reach folder, in which all tiles must lie.

    Raises
    ------
    RefusedError
        If it is no such list, or names a file that is missing, no GeoTIFF or outside the folder.
    """
    body = read_limited(path, FileKind.SETTINGS, folder)
    if b"<!DOCTYPE" in body or b"<!ENTITY" in body:
        msg = "it declares entities"
        raise RefusedError(msg, FIX)
    try:
        root = ET.fromstring(body)
    except (ET.ParseError, ValueError, RecursionError) as error:
        msg = f"it is not whole XML ({str(error)[:100]})"
        raise RefusedError(msg, FIX) from None
    band = root.find("VRTRasterBand")
    if root.tag != "VRTDataset" or root.get("subClass") or band is None or band.get("subClass"):
        msg = "it works out its heights from others, and is no plain list of tiles"
        raise RefusedError(msg, FIX)
    found = [_tile(name, path, folder) for name in _names(band)]
    if not found:
        msg = "it names no tile"
        raise RefusedError(msg, FIX)
    return list(dict.fromkeys(found))


def _names(band: ET.Element) -> Iterator[str]:
    """Yield the file names of a band's sources, relative to the list."""
    sources = [one for one in band if one.tag.endswith("Source")]
    if len(sources) > MOST_TILES:
        msg = f"it names {len(sources):,} tiles, at most {MOST_TILES:,} are read"
        raise RefusedError(msg, FIX)
    for source in sources:
        if source.tag not in PLAIN or any(source.find(name) is not None for name in CHANGES):
            msg = "it works out its heights from others, and is no plain list of tiles"
            raise RefusedError(msg, FIX)
        named = source.find("SourceFilename")
        if named is None or not (named.text or "").strip():
            msg = "one of its sources names no file"
            raise RefusedError(msg, FIX)
        if (source.findtext("SourceBand") or "1").strip() != "1":
            msg = "it takes another band than the first"
            raise RefusedError(msg, FIX)
        yield (named.text or "").strip()


def _tile(name: str, path: Path, folder: Path) -> Path:
    """Return one tile, which must be a GeoTIFF inside the folder."""
    beside = path.parent.relative_to(folder).as_posix()
    try:
        tile = inside(folder, name if beside == "." else f"{beside}/{name}")
    except OutsideError:
        msg = f"it names {name[:120]!r}, which is not a file of this folder"
        raise RefusedError(msg, FIX) from None
    if not tile.is_file():
        msg = f"it names {name[:120]!r}, which is not there"
        raise RefusedError(msg, FIX)
    wrong = refusal(tile, FileKind.TERRAIN, folder)
    if wrong is None and content_of(tile) is not Content.TIFF:
        wrong = (f"it names {name[:120]!r}, which is no GeoTIFF of heights", FIX)
    if wrong is not None:
        raise RefusedError(*wrong)
    return tile
