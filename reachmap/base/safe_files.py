"""Checks of input files before reading: plain, in their folder, of limited size; stdlib only.

A shared folder may hold anything under a known name: a pipe that never ends, a link to a device or
out of the folder, a file of terabytes with nothing in it. Each is refused before a byte is read.
"""

from __future__ import annotations

import stat
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path

from reachmap.base.errors import ReachmapError
from reachmap.base.paths import stays_inside


class FileKind(StrEnum):
    """What a file is read as; each has its largest size."""

    SETTINGS = "settings"
    DRAWING = "drawing"
    TEXT = "text"
    RECORD = "record"
    PICTURE = "picture"
    TERRAIN = "terrain"
    IMAGERY = "imagery"


MB = 1_000_000

LARGEST: Mapping[FileKind, int] = {
    FileKind.SETTINGS: 2 * MB,
    FileKind.DRAWING: 500 * MB,
    FileKind.TEXT: 50 * MB,
    FileKind.RECORD: 150 * MB,
    FileKind.PICTURE: 200 * MB,
    FileKind.TERRAIN: 16_000 * MB,
    FileKind.IMAGERY: 16_000 * MB,
}
"""Largest size of each kind [bytes] (our choice: ten times or more what a reach needs).

SETTINGS: reach.toml, fitted.toml. DRAWING: GeoPackage, shapefile, FlatGeobuf. TEXT: GeoJSON, KML,
GPX, what a KMZ unpacks to, CSV of notes and logs. RECORD: a gauge's files. TERRAIN: one DEM tile.
IMAGERY: one orthophoto or file of tiles; only the part over the reach is unpacked.
"""


class RefusedError(ReachmapError):
    """A file that is not opened: `found` is the reason, `fix` how to mend it."""

    def __init__(self, found: str, fix: str) -> None:
        """Keep both and make the message."""
        self.found, self.fix = found, fix
        super().__init__(f"{found}. {fix}")

    def __reduce__(self) -> tuple[type[RefusedError], tuple[str, str]]:
        """Return how to make it again: it may have been raised in another process."""
        return type(self), (self.found, self.fix)


def refusal(path: Path, kind: FileKind, folder: Path | None = None) -> tuple[str, str] | None:
    """Return why a file must not be read as (found, fix); None where it may.

    A missing file is not refused: opening it raises.

    Parameters
    ----------
    path
        The file; not opened.
    kind
        What it would be read as.
    folder
        The folder that it must stay in, links followed; None where the user named the file.
    """
    if folder is not None and not stays_inside(folder, path):
        return "it is a link that leads out of the folder", "Put the file itself into the folder"
    try:
        about = path.stat()
    except OSError:
        return None
    if not stat.S_ISREG(about.st_mode):
        return "it is not a plain file", "Put a plain file in its place, or take it out"
    if about.st_size > LARGEST[kind]:
        found = f"it has {_size(about.st_size)}; at most {_size(LARGEST[kind])} are read"
        return found, "Take out of it what the reach does not need, or take it out"
    return None


def check_file(path: Path, kind: FileKind, folder: Path | None = None) -> None:
    """Raise where `refusal` finds a reason.

    Raises
    ------
    RefusedError
        Saying what was found and how to mend it.
    """
    wrong = refusal(path, kind, folder)
    if wrong is not None:
        raise RefusedError(*wrong)


def read_limited(path: Path, kind: FileKind, folder: Path | None = None) -> bytes:
    """Return a file's bytes, never more than its kind may have.

    Raises
    ------
    RefusedError
        If it is no plain file, leads out of `folder` or is too large.
    OSError
        If it cannot be read.
    """
    check_file(path, kind, folder)
    with path.open("rb") as stream:
        body = stream.read(LARGEST[kind] + 1)
    if len(body) > LARGEST[kind]:
        found = f"it grows beyond {_size(LARGEST[kind])} while it is read"
        raise RefusedError(found, "Take it out")
    return body


def read_text(path: Path, kind: FileKind, folder: Path | None = None) -> str:
    """Return a file's text in UTF-8, a byte-order mark left out; errors as `read_limited`.

    Raises
    ------
    RefusedError
        Also if it is not UTF-8.
    """
    try:
        return read_limited(path, kind, folder).decode("utf-8-sig")
    except UnicodeDecodeError:
        msg = "it is not a text file in UTF-8"
        raise RefusedError(msg, "Save it again as plain text in UTF-8") from None


def _size(count: int) -> str:
    """Return a number of bytes in words."""
    return f"{count / MB:,.0f} MB"
