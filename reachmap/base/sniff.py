"""File type detection by first bytes, never by name; standard library only.

Only plain files may be given (`safe_files.refusal`): reading a pipe would block.
"""

from __future__ import annotations

import re
import struct
from enum import StrEnum
from pathlib import Path

HEAD_BYTES = 65_536
"""How much of a file is looked at (our choice: headers of text formats end long before)."""

MOST_TAGS = 4096
"""Entries of a TIFF's first directory that are looked at (our choice: some 20 are usual)."""


class Content(StrEnum):
    """What a file holds."""

    EMPTY = "empty"
    TIFF = "tiff"
    TIFF_PICTURE = "tiff_picture"
    TIFF_BYTES = "tiff_bytes"
    VRT = "vrt"
    ASCII_GRID = "ascii_grid"
    CLOUD = "cloud"
    GPX = "gpx"
    KML = "kml"
    GEOPACKAGE = "geopackage"
    SHAPEFILE = "shapefile"
    FLATGEOBUF = "flatgeobuf"
    GEOJSON = "geojson"
    NMEA = "nmea"
    DEPTHS = "depths"
    RECORD = "record"
    PHOTO = "photo"
    PDF = "pdf"
    ARCHIVE = "archive"
    TEXT = "text"
    OTHER = "other"


TIFF_HEADS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
"""How TIFF (TIFF 6.0, section 2) and BigTIFF files of either byte order begin."""

SQLITE_HEAD = b"SQLite format 3\0"
"""How an SQLite database begins, which GeoPackage and MBTiles files are."""
SHAPEFILE_HEAD = b"\x00\x00\x27\x0a"
FLATGEOBUF_HEAD = b"fgb\x03fgb"

HEADS: tuple[tuple[bytes, Content], ...] = (
    (SQLITE_HEAD, Content.GEOPACKAGE),
    (SHAPEFILE_HEAD, Content.SHAPEFILE),
    (FLATGEOBUF_HEAD, Content.FLATGEOBUF),
    (b"LASF", Content.CLOUD),
    (b"\xff\xd8\xff", Content.PHOTO),
    (b"\x89PNG\r\n\x1a\n", Content.PHOTO),
    (b"%PDF-", Content.PDF),
    (b"PK\x03\x04", Content.ARCHIVE),
    (b"\x1f\x8b", Content.ARCHIVE),
    (b"7z\xbc\xaf\x27\x1c", Content.ARCHIVE),
)
"""How files of a kind begin: SQLite's file format, 1.3; the shapefile's technical description; LAS
1.4 R15, table 3 (signature); JPEG, PNG (ISO/IEC 15948, 5.2), PDF, ZIP, gzip (RFC 1952, 2.3.1);
FlatGeobuf, JPEG and 7z from memory."""

_HEIF = re.compile(rb"^.{4}ftyp(heic|heix|mif1|heif|avif)", re.DOTALL)
_NMEA = re.compile(rb"[$!][A-Z]{2,5}[A-Z]{3},[^\r\n]*")
_GRID = re.compile(rb"\s*ncols\s+\d+\s+nrows\s+\d+\s", re.IGNORECASE)
_PLACE = (
    re.compile(r"(^|[,;\t ])\"?(lon|long|longitude|lng|x|east|easting)(?![a-z])"),
    re.compile(r"(^|[,;\t ])\"?(lat|latitude|y|north|northing)(?![a-z])"),
)
_DEPTH = re.compile(r"(^|[,;\t ])\"?(water[ _]?)?depth(?![a-z])")
_RECORD = re.compile(
    r"(^|[,;\t ])\"?(stage|flow|discharge|q|gage[ _]height|gauge[ _]height|level|height)(?![a-z])"
)
_TIME = re.compile(r"(^|[,;\t ])\"?(time|date|datetime|timestamp|stage)(?![a-z])")


def content_of(path: Path) -> Content:
    """Return what a plain file holds.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
        if head[:4] in TIFF_HEADS:
            return _tiff(stream.seek, stream.read, head)
    if not head.strip():
        return Content.EMPTY
    known = next((kind for begin, kind in HEADS if head.startswith(begin)), None)
    if known is not None:
        return known
    if _HEIF.match(head):
        return Content.PHOTO
    return _text(head)


def _text(head: bytes) -> Content:
    """Return what a file without a known signature holds."""
    if b"\0" in head:
        return Content.OTHER
    plain = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if plain[:1] == b"<":
        return _markup(plain)
    if plain[:1] in (b"{", b"["):
        return Content.GEOJSON if b'"FeatureCollection"' in head else Content.TEXT
    if _GRID.match(plain):
        return Content.ASCII_GRID
    lines = plain.splitlines()[:200]
    sentences = sum(_NMEA.search(line) is not None for line in lines)
    if sentences >= max(1, len(lines) // 2):
        return Content.NMEA
    return _table([line.decode("utf-8", errors="replace") for line in lines])


def _markup(plain: bytes) -> Content:
    """Return what a text in pointed brackets holds, by its first element."""
    found = re.search(rb"<(?:[A-Za-z]\w*:)?([A-Za-z]\w*)", plain)
    name = found[1].lower() if found else b""
    kinds = {
        b"vrtdataset": Content.VRT, b"gpx": Content.GPX, b"kml": Content.KML,
        b"collection": Content.RECORD,
    }  # fmt: skip
    return kinds.get(name, Content.TEXT)


def _table(lines: list[str]) -> Content:
    """Return whether lines are a table of depths, a gauge's record or just text, by their heads."""
    rows = [line for line in lines if line.strip() and not line.startswith("#")]
    if not rows:
        return Content.TEXT
    head = rows[0].lower()
    if not any(mark in head for mark in ",;\t"):
        return Content.TEXT
    if all(pattern.search(head) for pattern in _PLACE):
        return Content.DEPTHS if _DEPTH.search(head) else Content.TEXT
    rdb = len(rows) > 1 and re.fullmatch(r"\d+[sdn](\t\d+[sdn])*", rows[1].strip()) is not None
    if rdb or (_RECORD.search(head) and _TIME.search(head)):
        return Content.RECORD
    return Content.TEXT


def _tiff(seek: object, read: object, head: bytes) -> Content:
    """Return whether a TIFF can hold heights, by its first directory (TIFF 6.0, section 2).

    A picture has colours (PhotometricInterpretation 2, 3, 5 or 6) or three samples and more; a
    raster of single bytes holds shades or classes.
    """
    order = "<" if head[:2] == b"II" else ">"
    big = head[2:4] in (b"+\0", b"\0+")
    at_size = "Q" if big else "I"
    try:
        (first,) = struct.unpack_from(order + at_size, head, 8 if big else 4)
        seek(first)  # type: ignore[operator]
        counted = read(8 if big else 2)  # type: ignore[operator]
        (count,) = struct.unpack(order + ("Q" if big else "H"), counted)
        size = 20 if big else 12
        entries = read(size * min(count, MOST_TAGS))  # type: ignore[operator]
        tags: dict[int, int] = {}
        for begin in range(0, len(entries) - size + 1, size):
            tag, kind = struct.unpack_from(order + "HH", entries, begin)
            value = begin + (12 if big else 8)
            (amount,) = struct.unpack_from(order + at_size, entries, begin + 4)
            if kind == 3 and amount * 2 <= (8 if big else 4):  # shorts that stand in the entry
                (tags[tag],) = struct.unpack_from(order + "H", entries, value)
            else:
                tags[tag] = -1
    except (struct.error, OSError, OverflowError, ValueError):
        return Content.TIFF
    bits, samples, shown = tags.get(258, 1), tags.get(277, 1), tags.get(262, 1)
    if shown in (2, 3, 5, 6) or samples in (3, 4):
        return Content.TIFF_PICTURE
    return Content.TIFF_BYTES if bits in (1, 2, 4, 8) else Content.TIFF
