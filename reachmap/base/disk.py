"""Syncing files to disk, and messages for a disk or folder that cannot be written."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reachmap.base.errors import ReachmapError

LEAST_FREE = 64 * 1024
"""A disk with less room than this [bytes] counts as full; our choice, 4 kB to 1 MB.

Libraries that write netCDF, GeoPackage or TIFF report a full disk as any error, some not at all.
"""

NEARLY_FULL = 1024 * 1024
"""Where something went wrong, a disk with less room than this [bytes] was the cause; our choice,
64 kB to 10 MB: a library that fails may have removed the file that did not fit."""

_WORDS = ("no space left", "disk is full", "disk full", "disk quota")
"""Phrases of libraries that pass on the system's or SQLite's own message."""

FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
"""Error numbers of a disk or a quota that is full."""

NO_ROOM = FULL | {errno.EFBIG}
"""Error numbers of a disk, a quota or a file that is full."""

DENIED = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
"""Error numbers of a place that may not be written."""

_WINDOWS_FULL = {39, 112}
"""ERROR_HANDLE_DISK_FULL and ERROR_DISK_FULL of the Windows API, from memory."""


class DiskFullError(ReachmapError, OSError):
    """The disk is full; an `OSError` too, so that handlers of that class catch it."""


def sync_file(path: Path) -> None:
    """Wait until the content of a file is on the disk.

    A file that refuses to be opened for writing (a read-only copy) is left to the system.
    """
    with suppress(PermissionError):
        descriptor = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can do that.

    Windows opens no folder, and some network disks refuse: there nothing happens.
    """
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def sync_tree(folder: Path) -> None:
    """Wait until every file and name below a folder is on the disk."""
    for place, _, names in os.walk(folder):
        for name in names:
            path = Path(place, name)
            if not path.is_symlink():
                sync_file(path)
        sync_folder(Path(place))


def is_full(error: BaseException, folder: Path) -> bool:
    """Return whether an error means that the disk of `folder` is full.

    It does where the error, or one that it came from, carries the system's number or words for
    that, or where less than `NEARLY_FULL` is left.
    """
    one: BaseException | None = error
    while one is not None:
        if isinstance(one, OSError) and (
            one.errno in FULL or getattr(one, "winerror", None) in _WINDOWS_FULL
        ):
            return True
        if any(words in str(one).lower() for words in _WORDS):
            return True
        one = one.__cause__ or one.__context__
    return has_no_room(folder, NEARLY_FULL)


def has_no_room(folder: Path, least: int = LEAST_FREE) -> bool:
    """Return whether less than `least` [bytes] is left on the disk of `folder`."""
    there = next((path for path in (folder, *folder.parents) if path.exists()), folder)
    try:
        return shutil.disk_usage(there).free < least
    except OSError:
        return False


@contextmanager
def room_on_disk(folder: Path) -> Iterator[None]:
    """Turn whatever goes wrong on a full disk into one message, that names `folder`.

    Raises
    ------
    DiskFullError
        In place of any error that a full disk caused.
    """
    try:
        yield
    except Exception as error:
        if isinstance(error, DiskFullError) or is_full(error, folder):
            raise DiskFullError(full_message(folder)) from error
        raise


def full_message(place: object = None, *, sure: bool = True) -> str:
    """Return the message for a full disk, or for an error that a full disk likely caused.

    Parameters
    ----------
    place
        File or folder on it; None where it is not known.
    sure
        Whether the disk is known to be full.
    """
    begin = "The disk" if place is None else f"{place}: the disk"
    state = "is full" if sure else "may be full, or not open for writing"
    return (
        f"{begin} {state}. What was there before is as it was. "
        "Make room on that disk, and do this again"
    )


def refusal_words(error: OSError) -> str:
    """Return what the operating system refused, and how to mend it, as sentences."""
    if error.errno in NO_ROOM:
        return f"{full_message(error.filename)}."
    if error.errno in DENIED:
        place = "" if error.filename is None else f" ({error.filename})"
        return f"This folder may not be written{place}. Give it back its rights, then try again."
    return f"The computer refused: {error}"


def database_words(error: Exception) -> str:
    """Return why a database could not be written, and how to mend it, as sentences."""
    full = isinstance(error, sqlite3.OperationalError) and "full" in str(error)
    return f"{full_message(sure=full)} ({str(error)[:160]})."
