"""Files that a killed run leaves in a written folder, recognised by reachmap's own names."""

from __future__ import annotations

import re
import shutil
import time
from contextlib import suppress
from pathlib import Path

_ASIDE = r"\.\d+-"
"""Process number before the name of a file that is written aside (`base.cache.write_aside`)."""

_STORED = re.compile(_ASIDE + r"[a-z]+-[0-9a-z]+\.(nc|gpkg|npz|json)(\.blake2|-journal|-wal|-shm)?")
_DAYS = re.compile(_ASIDE + r"days\.(html|ics)")
_FITTED = re.compile(_ASIDE + r"fitted\.toml")
_WRITING = re.compile(r"\.writing-[a-z0-9_]{8}")
"""Folder in which version 0.1 prepared its files."""

OF_READERS = re.compile(_ASIDE + r"((record|facts)-.*|days\..*)")
"""Files that `reachmap days` writes, which takes no lock."""

STALE_S = 3600.0
"""Age [s] from which a file that takes no lock to write counts as left behind; our choice, a
minute to a day: `reachmap days` writes each in well under a second."""


def sweep(folder: Path, cache: str) -> None:
    """Remove what dead runs left in a written folder.

    Call it only while the folder's lock is held: then no other run uses what the patterns match. A
    file that cannot be removed stays.

    Parameters
    ----------
    folder
        The written folder.
    cache
        Name of the cache folder in it.
    """
    for place, inner in ((folder, ""), (folder / cache, f"{cache}/")):
        if place.is_symlink() or not place.is_dir():
            continue
        for path in place.iterdir():
            if is_leftover(inner + path.name, path):
                remove_leftover(path)


def sweep_fits(folder: Path) -> None:
    """Remove what dead fits left in a reach folder; the lock of its written folder is held."""
    for path in folder.iterdir():
        if _FITTED.fullmatch(path.name) and path.is_file():
            remove_leftover(path)


def is_leftover(name: str, path: Path) -> bool:
    """Return whether a file or folder is one that a dead run left.

    Parameters
    ----------
    name
        Its path within the written folder, parted by slashes.
    path
        Where it is.
    """
    inner, _, last = name.rpartition("/")
    if inner == "" and _WRITING.fullmatch(last):
        return path.is_dir() and not path.is_symlink()
    wanted = {"": _DAYS, "cache": _STORED}.get(inner)
    if wanted is None or not wanted.fullmatch(last) or path.is_dir():
        return False
    return not OF_READERS.fullmatch(last) or time.time() - path.lstat().st_mtime > STALE_S


def remove_leftover(path: Path) -> None:
    """Remove a leftover file or folder; links in it are not followed."""
    with suppress(OSError):
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
