"""Detection of a second editor on the same folder, by a lock that names its holder."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path

from reachmap.base.lock import HeldError, holder_of, locked

PAGE_LOCK = ".drawing-page.lock"
"""Lock file held by the process that serves the folder's drawing page."""


@contextmanager
def page_announced(folder: Path, since: datetime) -> Iterator[str]:
    """Hold the page's lock while the context lasts; yield a sentence on another open page.

    A second page on one folder is allowed: each save compares versions under the lock of the
    drawing, and the slower page is refused and can load the newer drawing.

    Parameters
    ----------
    folder
        The reach folder.
    since
        When this page was opened.

    Yields
    ------
    str
        Which process has a page of this folder open, and since when; "" for none.
    """
    with ExitStack() as held:
        yield _announced(folder, since, held)


def _announced(folder: Path, since: datetime, held: ExitStack) -> str:
    """Take the page's lock into `held`, or return who holds it."""
    path = folder / PAGE_LOCK
    try:
        held.enter_context(locked(path, f"a drawing page open since {since:%Y-%m-%d %H:%M}"))
    except HeldError:
        who = holder_of(path) or "a drawing page of another process"
        return (
            f"This folder has another page open: {who}. Both can draw, nothing is saved over: "
            "whichever saves second is asked to load the newer drawing first."
        )
    except OSError:
        return ""  # a folder that may not be written: nothing can be saved over either
    return ""
