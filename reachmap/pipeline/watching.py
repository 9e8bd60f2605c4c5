"""Watches a reach folder and builds it again, in one process, whenever a file of it changes."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from multiprocessing import active_children
from pathlib import Path

from reachmap.base.errors import Fault, FaultsError, ReachmapError
from reachmap.base.progress import Progress
from reachmap.logbook.store import FILE as LOG_FILE
from reachmap.markup.found import input_files
from reachmap.pipeline.folder import build_folder
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.warm import keep_warm

LOG = logging.getLogger("reachmap")

POLL_S = 0.4
"""Polling interval [s]; our choice, 0.2-2. A poll costs a few milliseconds and, unlike file-system
events, works on network drives and sticks too. A build begins once two polls agree, so that a file
still being written is waited for."""

LEAVE_S = 3.0
"""How long a build under way is waited for when the program ends [s]; our choice, 1-10: most steps
end within it; a build still running then is stopped as by a power cut."""

Snapshot = tuple[tuple[str, int, int], ...]
"""Name, time and size of every file that a build reads."""


class OvertakenError(Exception):
    """The files have changed again, or the program ends: the build under way is abandoned."""


@dataclass(frozen=True, slots=True)
class State:
    """Progress and result of the builds of a watched folder.

    Parameters
    ----------
    number
        Successful builds so far; the page reloads the map when it changes.
    busy
        Whether a build is under way.
    step
        Name of its present step.
    heading, faults
        Why the folder cannot be built as it is now; empty where it can.
    """

    number: int = 0
    busy: bool = False
    step: str = ""
    heading: str = ""
    faults: tuple[Fault, ...] = ()


class Watch:
    """Builds a reach folder at the start and after every change; `state` is its progress.

    Parameters
    ----------
    folder, out
        The reach folder and the written one.
    options
        Of every build.
    build
        As `build_folder`; another in tests.
    """

    def __init__(
        self,
        folder: Path,
        out: Path,
        options: Options,
        build: Callable[..., object] = build_folder,
    ) -> None:
        """Note what is watched; nothing is read before `run`."""
        self.folder, self.out, self.options, self.build = folder, out, options, build
        self.state = State()
        self.ended = threading.Event()
        self._polled_at = 0.0
        self._built_from: Snapshot = ()

    def run(self) -> None:
        """Watch until `ended` is set; one thread runs this."""
        built: Snapshot | None = None
        before: Snapshot | None = None
        with keep_warm():
            while not self.ended.is_set():
                now = snapshot(self.folder)
                if now != built and now == before:
                    built = now
                    self._build(now)
                before = now
                self.ended.wait(POLL_S)

    def end(self, thread: threading.Thread) -> None:
        """End the watch that a thread runs; what its processes have begun is not waited for."""
        self.ended.set()
        thread.join(LEAVE_S)
        if thread.is_alive():
            for process in active_children():
                process.terminate()
            thread.join(LEAVE_S)

    def _build(self, now: Snapshot) -> None:
        """Build what is there now, unless it changes meanwhile."""
        self._built_from, self._polled_at = now, time.monotonic()
        self.state = replace(self.state, busy=True, step="", heading="", faults=())
        heading, faults = "", tuple[Fault, ...]()
        try:
            self.build(self.folder, self.out, self.options, replace=False, progress=self._progress)
        except OvertakenError:
            return  # the next poll begins again
        except FaultsError as error:
            heading, faults = str(error).splitlines()[0], error.faults
        except ReachmapError as error:
            heading, faults = "", (Fault("", str(error), ""),)
        except Exception as error:  # a bug must not end the watch
            if self.ended.is_set():
                return
            LOG.exception("a build failed")
            heading, faults = "", (Fault("reachmap", f"failed with {error!r}", ""),)
        number = self.state.number + (not faults)
        self.state = State(number, heading=heading, faults=faults)

    @contextmanager
    def _progress(self) -> Iterator[Progress]:
        """Give the progress callback of a build: it stops a build that was overtaken."""

        def progress(step: str, _done: int, _total: int) -> None:
            self.state = replace(self.state, step=step)
            if self.ended.is_set():
                raise OvertakenError
            if time.monotonic() > self._polled_at + POLL_S:
                self._polled_at = time.monotonic()
                if snapshot(self.folder) != self._built_from:
                    raise OvertakenError

        yield progress


def snapshot(folder: Path) -> Snapshot:
    """Return name, time and size of every file that a build of a folder reads.

    A GeoPackage that a desktop program holds open keeps its last edits in a file beside it.
    """
    seen = []
    try:
        files = [*input_files(folder), folder / LOG_FILE]
    except (
        OSError,
        ValueError,
        ReachmapError,
    ):  # half-written, or gone: a build says what is wrong
        return ()
    for path in files:
        for one in (path, path.with_name(f"{path.name}-wal")):
            with suppress(OSError):
                stat = one.stat()
                seen.append((str(one), stat.st_mtime_ns, stat.st_size))
    return tuple(seen)
