"""Exclusive writing to a written folder: its lock, the wait for it, and a settled start."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from contextvars import ContextVar
from datetime import datetime
from pathlib import Path

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.generation import is_interrupted, settle
from reachmap.base.lock import HeldError, holder_of, locked

WAIT_S = 20.0
"""How long a second writer waits for the first [s]; our choice, 5 to 60: a build takes longer,
another's sheets do not."""

_HELD: ContextVar[frozenset[Path]] = ContextVar("_HELD", default=frozenset())
"""Lock files that the present call chain holds already."""


def lock_path(folder: Path) -> Path:
    """Return the lock file of a written folder: beside it, so that the folder can be renamed."""
    real = folder.resolve()
    return real.parent / f".{real.name}.lock"


@contextmanager
def one_writer(
    folder: Path,
    doing: str,
    *,
    waiting: Callable[[str], object] = lambda _: None,
    wait_s: float | None = None,
) -> Iterator[None]:
    """Lock a written folder for writing; what an interrupted writer left is settled first.

    Within a context that holds the same folder already, nothing is done again.

    Parameters
    ----------
    folder
        The written folder; it need not exist.
    doing
        What is being done, like "a build".
    waiting
        Callback with one sentence, called before waiting for another writer.
    wait_s
        How long to wait for it [s], >= 0; `WAIT_S` if not given.

    Raises
    ------
    HeldError
        If another writer still holds it; the message names it.
    MarkupError
        If it cannot be a written folder.
    """
    path = lock_path(folder)
    if path in _HELD.get():
        yield
        return
    check_place(folder)
    path.parent.mkdir(parents=True, exist_ok=True)
    with _waited(path, doing, waiting, WAIT_S if wait_s is None else wait_s):
        token = _HELD.set(_HELD.get() | {path})
        try:
            settle(folder)
            yield
        finally:
            _HELD.reset(token)


def settle_if_free(folder: Path) -> None:
    """Settle an interrupted change of a folder that is about to be read, where no writer is at it.

    Does nothing where nothing was interrupted, where the folder is held, or may not be written.
    """
    if is_interrupted(folder):
        with suppress(HeldError, OSError), one_writer(folder, "settling", wait_s=0.0):
            pass


def check_place(folder: Path) -> None:
    """Refuse a folder that cannot change as a whole.

    Raises
    ------
    MarkupError
        If it is a file, a whole disk, or holds a reach folder.
    """
    real = folder.resolve()
    if real.exists() and not real.is_dir():
        found = "it is a file"
    elif real.parent == real or os.path.ismount(real):
        found = "it is a whole disk"
    elif (real / "reach.toml").exists():
        found = "it is a reach folder, with your drawing in it"
    else:
        return
    fix = f"Name a folder that is for the maps alone, like {real / 'written'}"
    raise MarkupError([Fault(str(folder), found, fix)])


@contextmanager
def _waited(
    path: Path, doing: str, waiting: Callable[[str], object], wait_s: float
) -> Iterator[None]:
    """Hold a lock, at once or after a wait that is announced."""
    since = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
    me = f"{doing} since {since}"
    with ExitStack() as held:
        try:
            held.enter_context(locked(path, me))
        except HeldError:
            if wait_s <= 0:
                raise
            waiting(f"waiting for {holder_of(path) or 'another process'}")
            held.enter_context(locked(path, me, wait_s=wait_s))
        yield
