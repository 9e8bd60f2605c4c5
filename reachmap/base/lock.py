"""One writer at a time: an operating-system lock on a folder, that names its holder."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from reachmap.base.errors import ReachmapError


class HeldError(ReachmapError):
    """Another process holds the lock; the message says which."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a lock: what it is doing, its process number and its computer."""

    doing: str
    process: int
    computer: str

    def __str__(self) -> str:
        """Return the holder in words."""
        return f"{self.doing} (process {self.process} on {self.computer})"


@contextmanager
def locked(path: Path, doing: str, *, wait_s: float = 0.0) -> Iterator[None]:
    """Hold the lock at `path` for as long as the context lasts.

    The operating system drops the lock when its process ends, also when it is killed; the file
    itself stays and means nothing. The holder is written beside it (`<name>.holder`).

    Parameters
    ----------
    path
        The lock file; its folder must exist.
    doing
        What is being done, for the message to processes that wait, like "a build".
    wait_s
        How long to wait for another holder [s], >= 0.

    Raises
    ------
    HeldError
        If another process, or another lock of this one, still holds it after `wait_s`.
    """
    lock = FileLock(path, thread_local=False)
    try:
        lock.acquire(timeout=wait_s, poll_interval=0.05)
    except Timeout:
        holder = holder_of(path)
        who = f"{holder}" if holder else "another process"
        msg = f"{path.parent}: in use by {who}. Let it finish, or close it, and try again"
        raise HeldError(msg) from None
    note = _note(path)
    try:
        me = Holder(doing, os.getpid(), platform.node())
        with suppress(OSError):  # on a full disk the lock holds all the same, without a name
            note.write_text(json.dumps(asdict(me)), encoding="utf-8")
        yield
    finally:
        note.unlink(missing_ok=True)
        lock.release()


def holder_of(path: Path) -> Holder | None:
    """Return the recorded holder of the lock at `path`; None where none is recorded."""
    try:
        stored = json.loads(_note(path).read_text(encoding="utf-8"))
        return Holder(str(stored["doing"]), int(stored["process"]), str(stored["computer"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _note(path: Path) -> Path:
    """Return the file that records the holder of a lock."""
    return path.with_name(f"{path.name}.holder")
