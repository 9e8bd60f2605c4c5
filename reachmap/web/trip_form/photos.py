"""Pictures kept in the reach folder, named by what is in them."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.paths import inside
from reachmap.base.safe_files import FileKind, RefusedError, read_limited

FOLDER = "photos"

KINDS = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp", "heic": "image/heic"}
"""Endings and types of pictures that are kept."""

_NAME = re.compile(r"[0-9a-f]{16}\.(jpg|png|webp|heic)")


def keep_photo(folder: Path, body: bytes) -> str | None:
    """Keep a picture as it is; return its path in the folder, None where it is no picture.

    Parameters
    ----------
    folder
        The reach folder.
    body
        The picture's file.

    Raises
    ------
    OutsideError
        If the folder of pictures is a link that leads out of the reach folder.
    """
    ending = kind_of(body)
    if ending is None:
        return None
    name = f"{FOLDER}/{hashlib.sha256(body).hexdigest()[:16]}.{ending}"
    target = inside(folder, name)
    target.parent.mkdir(exist_ok=True)
    if not target.is_file():
        write_aside(target, lambda aside: aside.write_bytes(body))
    return name


def kind_of(body: bytes) -> str | None:
    """Return the ending that goes with a picture's first bytes; None where it is no picture."""
    if body[:3] == b"\xff\xd8\xff":
        return "jpg"
    if body[:8] == b"\x89PNG\r\n\x1a\n":
        return "png"
    if body[:4] == b"RIFF" and body[8:12] == b"WEBP":
        return "webp"
    if body[4:8] == b"ftyp" and body[8:12] in {b"heic", b"heix", b"mif1", b"msf1"}:
        return "heic"
    return None


def photo_of(folder: Path, name: str) -> tuple[bytes, str] | None:
    """Return a kept picture and its type; None for any other name."""
    match = _NAME.fullmatch(name)
    path = folder / FOLDER / name
    if match is None or not path.is_file():
        return None
    try:
        return read_limited(path, FileKind.PICTURE, folder), KINDS[match[1]]
    except RefusedError:
        return None
