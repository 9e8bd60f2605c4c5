"""The basemap under the drawing: start position, the angler's own picture, their own tiles.

All of it is kept in the reach folder, in `underlay/`; nothing of it is read by a build.
"""

from __future__ import annotations

import io
import json
import math
import re
import secrets
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from PIL import Image

from reachmap.base.cache import write_aside
from reachmap.base.errors import ReachmapError
from reachmap.base.paths import inside
from reachmap.base.safe_files import FileKind, RefusedError, read_limited, read_text

FOLDER = "underlay"
FILE = "underlay.json"

KINDS = {"PNG": "image/png", "JPEG": "image/jpeg", "WEBP": "image/webp"}
"""Pictures that are taken, and their types."""

MOST_PIXELS = 120_000_000
"""Largest picture taken [pixels] (our choice: a sheet scanned at 600 dots an inch)."""

MOST_POINTS = 12
"""Control points kept (our choice; two to four will do)."""

EMPTY: Mapping[str, Any] = {
    "start": None,
    "tiles": "",
    "credit": "",
    "grid": True,
    "picture": None,
}
"""What a folder without an underlay holds."""

_PLAIN_HOST = re.compile(r"[A-Za-z0-9.-]+(:\d{1,5})?")
_PLAIN_ADDRESS = re.compile(r"[A-Za-z0-9.~:/?#@!$&()*+,=%{}_-]+")


class BasemapError(ReachmapError):
    """The basemap that was sent cannot be used."""


def basemap_in(folder: Path) -> dict[str, Any]:
    """Return a folder's basemap; parts that cannot be read are left out."""
    try:
        message = json.loads(read_text(folder / FOLDER / FILE, FileKind.SETTINGS, folder))
        return checked(folder, message)
    except (RefusedError, OSError, ValueError, RecursionError, BasemapError):
        return dict(EMPTY)


def keep(folder: Path, message: Mapping[str, Any]) -> dict[str, Any]:
    """Store a basemap and return it.

    Raises
    ------
    BasemapError
        If it cannot be.
    """
    good = checked(folder, message)
    text = json.dumps(good, indent=1)
    write_aside(
        inside(folder, f"{FOLDER}/{FILE}"), lambda aside: aside.write_text(text, encoding="utf-8")
    )
    return good


def checked(folder: Path, message: object) -> dict[str, Any]:
    """Return a basemap, each of its parts validated."""
    if not isinstance(message, dict):
        msg = "The basemap is not described."
        raise BasemapError(msg)
    tiles, credit = message.get("tiles") or "", message.get("credit") or ""
    if not isinstance(tiles, str) or not isinstance(credit, str) or len(credit) > 300:
        msg = "The address of the tiles is not text, or their credit is too long."
        raise BasemapError(msg)
    tile_origin(tiles)
    start = message.get("start")
    return {
        "start": None if start is None else _numbers(start, 2, "The place to begin"),
        "tiles": tiles.strip(),
        "credit": credit,
        "grid": bool(message.get("grid", True)),
        "picture": _picture(folder, message.get("picture")),
    }


def tile_origin(address: str) -> str:
    """Return the one origin a page must be allowed to fetch tiles from; "" for no tiles.

    Raises
    ------
    BasemapError
        If the address is none that can be used.
    """
    address = address.strip()
    if not address:
        return ""
    parts = urlsplit(address)
    rest = address.partition("://")[2].partition("/")[2]
    fits = all(f"{{{sign}}}" in rest for sign in "zx") and ("{y}" in rest or "{-y}" in rest)
    plain = _PLAIN_HOST.fullmatch(parts.netloc) and _PLAIN_ADDRESS.fullmatch(address)
    if parts.scheme not in ("http", "https") or not plain or not fits:
        msg = (
            "That is no address of tiles. It begins with https://, its host has no braces, and "
            "{z}, {x} and {y} stand where zoom, column and row go."
        )
        raise BasemapError(msg)
    return f"{parts.scheme}://{parts.netloc}"


def keep_picture(folder: Path, body: bytes) -> dict[str, Any]:
    """Store a picture as sent and return its file and size.

    Raises
    ------
    BasemapError
        If it is no picture that a browser shows, or too large.
    """
    kind, width, height = _picture_facts(body)
    name = f"picture-{secrets.token_hex(4)}.{kind.lower()}"
    write_aside(inside(folder, f"{FOLDER}/{name}"), lambda aside: aside.write_bytes(body))
    return {"file": name, "width": width, "height": height}


def picture_body(folder: Path, name: str) -> tuple[bytes, str] | None:
    """Return a kept picture and its type; None where there is none of that name."""
    if not re.fullmatch(r"picture-[0-9a-f]{8}\.(png|jpeg|webp)", name):
        return None
    try:
        body = read_limited(folder / FOLDER / name, FileKind.PICTURE, folder)
    except (RefusedError, OSError):
        return None
    return body, KINDS[name.rsplit(".", 1)[1].upper()]


def _picture_facts(body: bytes) -> tuple[str, int, int]:
    """Return a picture's kind, width and height."""
    refusal = "That is no picture this page can show: give a PNG, a JPEG or a WebP."
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(body), formats=list(KINDS)) as picture:
                kind, (width, height) = str(picture.format), picture.size
                picture.verify()
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise BasemapError(refusal) from None
    if kind not in KINDS or width * height > MOST_PIXELS:
        msg = f"A picture has at most {MOST_PIXELS // 10**6} million pixels: make it smaller."
        raise BasemapError(msg if kind in KINDS else refusal)
    return kind, width, height


def _picture(folder: Path, message: object) -> dict[str, Any] | None:
    """Return the picture's position as the page sent it, validated."""
    if message is None:
        return None
    name = message.get("file") if isinstance(message, dict) else None
    if not isinstance(message, dict) or not isinstance(name, str):
        msg = "The picture is not described."
        raise BasemapError(msg)
    if picture_body(folder, name) is None:
        msg = "The picture is not in the folder."
        raise BasemapError(msg)
    size = _numbers([message.get("width"), message.get("height")], 2, "The picture's size")
    points = message.get("points")
    if not isinstance(points, list) or len(points) > MOST_POINTS:
        msg = "The picture's control points are not a list."
        raise BasemapError(msg)
    return {
        "file": name,
        "width": size[0],
        "height": size[1],
        "seen": min(1.0, max(0.1, _numbers([message.get("seen", 0.8)], 1, "How clear it is")[0])),
        "shown": bool(message.get("shown", True)),
        "stretch": bool(message.get("stretch", False)),
        "place": _numbers(message.get("place"), 4, "The picture's first place"),
        "points": [_numbers(point, 4, "A control point") for point in points],
    }


def _numbers(given: object, count: int, what: str) -> list[float]:
    """Return a list of finite numbers."""
    if isinstance(given, list) and len(given) == count:
        plain = all(isinstance(one, int | float) and not isinstance(one, bool) for one in given)
        if plain and all(math.isfinite(one) for one in given):
            return [float(one) for one in given]
    msg = f"{what} wants {count} numbers."
    raise BasemapError(msg)
