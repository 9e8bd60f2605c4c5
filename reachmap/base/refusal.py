"""Words for what an operating system refused."""

from __future__ import annotations

import errno
import sqlite3

from reachmap.base.disk import FULL

NO_ROOM = FULL | {errno.EFBIG}
"""Error numbers of a disk, a quota or a file that is full."""

DENIED = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
"""Error numbers of a place that may not be written."""


def refusal_words(error: OSError) -> str:
    """Return what the computer refused, and how to mend it, as sentences."""
    place = "" if error.filename is None else f" ({error.filename})"
    if error.errno in NO_ROOM:
        return f"The disk is full{place}: nothing was written. Make room on it, then try again."
    if error.errno in DENIED:
        return f"This folder may not be written{place}. Give it back its rights, then try again."
    return f"The computer refused: {error}"


def database_words(error: Exception) -> str:
    """Return why a database could not be written, and how to mend it, as sentences."""
    full = isinstance(error, sqlite3.OperationalError) and "full" in str(error)
    why = "the disk is full" if full else f"the disk may be full ({str(error)[:160]})"
    return f"{why}. Make room on it, and see that the folder may be written, then try again."
