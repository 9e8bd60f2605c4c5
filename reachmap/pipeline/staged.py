"""A folder at an address (s3://, memory://, http://, ...): copied here, worked on, put back.

Needs the optional extra `stores`. Builds lock, rename and map files, which no such store can do, so
the work is done in a folder of this computer that holds a copy of the whole.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import unquote
from uuid import uuid4

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.fingerprint import digest_bytes, digest_files
from reachmap.base.generation import REPORT
from reachmap.markup.waters_file import WATERS_FILE
from reachmap.pipeline.stamp import WRITTEN

WHOLE_PUTS = {"s3", "s3a", "gs", "gcs", "abfs", "abfss", "az", "adl", "memory"}
"""Stores in which a file is there whole or not at all: nothing has to be written aside first."""

READ_ONLY = {"http", "https"}
"""Stores that are only read: what writing means there is each server's own."""

MOST_FILES = 100_000
"""Most files of a folder at an address; our choice, 10^4-10^6: more is the wrong address."""


@dataclass(frozen=True)
class Stage:
    """A copy of what lies at an address: `folder` on this computer.

    `before` holds the digest of each file as it was copied, under its path in the folder.
    """

    address: str
    folder: Path
    before: Mapping[str, str]
    _store: Any
    _root: str

    def put_back(self) -> int:
        """Put what was written in the copy's written folders back; return how many files changed.

        Of each file either the old or the new one is there, never a part; the report is put last,
        so that a build that is cut off here is known to be unfinished. Files outside the written
        folders are left as they are.

        Raises
        ------
        MarkupError
            If another build has been put there meanwhile, or the store refuses.
        """
        now = digest_files(_files(self.folder), self.folder)
        mine = {name: digest for name, digest in now.items() if _is_written(name)}
        changed = [name for name, digest in mine.items() if self.before.get(name) != digest]
        gone = [name for name in self.before if _is_written(name) and name not in mine]
        try:
            for name in (*changed, *gone):
                if PurePosixPath(name).name == REPORT:
                    self._check_unchanged(name)
            for name in sorted(changed, key=lambda one: (_is_report(one), one)):
                self._put(name)
            for name in gone:
                self._store.rm_file(self._path(name))
        except (OSError, NotImplementedError) as error:
            raise MarkupError([_refused(self.address, error)]) from None
        return len(changed) + len(gone)

    def check_takes_files(self) -> None:
        """Refuse a store that takes no files, before any work is done.

        Raises
        ------
        MarkupError
            If it is one, or a small file put there and taken away again does not work.
        """
        fix = "Name a folder on this computer with --out"
        if self.address.partition("://")[0] in READ_ONLY:
            found = "such an address can be read, not written to"
            raise MarkupError([Fault(self.address, found, fix)])
        probe = self._path(f"reachmap-probe-{uuid4().hex}")
        try:
            self._store.pipe_file(probe, b"probe")
            self._store.rm_file(probe)
        except Exception as error:  # noqa: BLE001 - each store has errors of its own
            raise MarkupError([_refused(self.address, error)]) from None

    def _path(self, name: str) -> str:
        return f"{self._root}/{name}"

    def _put(self, name: str) -> None:
        """Put one file: whole by the store itself, or else aside and renamed."""
        local, target = str(self.folder / name), self._path(name)
        self._store.makedirs(target.rpartition("/")[0], exist_ok=True)
        if self.address.partition("://")[0] in WHOLE_PUTS:
            self._store.put_file(local, target)
            return
        aside = f"{target}.part-{uuid4().hex[:8]}"
        self._store.put_file(local, aside)
        try:
            self._store.mv(aside, target)
        except OSError:  # some stores do not rename over a file that is there
            self._store.rm_file(target)
            self._store.mv(aside, target)

    def _check_unchanged(self, name: str) -> None:
        """Refuse where a report is not the one that was copied."""
        digest = None
        with suppress(FileNotFoundError):
            self._store.invalidate_cache()
            digest = digest_bytes(self._store.cat_file(self._path(name)))
        if digest != self.before.get(name):
            found = f"another build has changed {name} since this one began"
            raise MarkupError([Fault(self.address, found, "Run it again; nothing was put back")])


def address_of(text: str) -> str:
    """Return an address of a store without a slash at its end; empty for a plain path.

    `file://` is a path like others and no store.
    """
    found = re.fullmatch(r"(?:[a-z0-9+.-]+::)*[a-z][a-z0-9+.-]+://.*", text, re.DOTALL)
    return text.rstrip("/") if found and not text.startswith("file://") else ""


@contextmanager
def staged(address: str) -> Iterator[Stage]:
    """Yield a copy of the folder at an address; it is removed at the end.

    Raises
    ------
    MarkupError
        If the address is of no known kind, cannot be read or holds nothing.
    """
    store, root = _opened(address)
    name = PurePosixPath(root).name or "folder"
    with TemporaryDirectory(prefix="reachmap-") as home:
        folder = Path(home).resolve() / re.sub(r"[^\w.-]", "_", name)
        folder.mkdir()
        try:
            found = [one for one in store.find(root) if one != root]
        except Exception as error:  # noqa: BLE001 - each store has errors of its own
            raise MarkupError([_unread(address, error)]) from None
        names = _names(found, root, address)
        above = f"{root.rpartition('/')[0]}/{WATERS_FILE}"
        try:
            if store.isfile(above):  # what the reaches of a folder share
                store.get_file(above, str(folder.parent / WATERS_FILE))
            for one, name in names.items():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                store.get_file(one, str(folder / name))
        except Exception as error:  # noqa: BLE001 - as above
            raise MarkupError([_unread(address, error)]) from None
        before = digest_files(_files(folder), folder)
        yield Stage(address, folder, before, store, root)


def _opened(address: str) -> tuple[Any, str]:
    """Return the store of an address and the folder's path in it."""
    kind = address.partition("://")[0]
    try:
        from fsspec.core import url_to_fs
    except ImportError:
        found = "the part that reads such addresses is not installed"
        fix = 'Install it with pip install "reachmap[stores]", or name a folder on this computer'
        raise MarkupError([Fault(address, found, fix)]) from None
    try:
        store, root = url_to_fs(address)
    except ImportError as error:
        fix = f"Install what reads {kind}:// addresses, or name a folder on this computer"
        raise MarkupError([Fault(address, str(error), fix)]) from None
    except ValueError as error:
        fix = "Correct the address, or name a folder on this computer"
        raise MarkupError([Fault(address, str(error), fix)]) from None
    except Exception as error:  # noqa: BLE001 - each store has errors of its own
        raise MarkupError([_unread(address, error)]) from None
    return store, str(root).rstrip("/")


def _names(found: Sequence[str], root: str, address: str) -> dict[str, str]:
    """Return what to copy: the path in the store, and in the folder."""
    names = {one: _name(one, root, address) for one in found}
    names = {one: name for one, name in names.items() if not _is_hidden(name)}
    if not names or len(names) > MOST_FILES:
        what = f"{len(names):,} files are there" if names else "nothing is there"
        fix = "Name the address of a reach folder, or of a folder of them"
        raise MarkupError([Fault(address, what, fix)])
    return names


def _name(path: str, root: str, address: str) -> str:
    """Return a file's path in the folder; refuse one that would lead out of it."""
    name = unquote(path[len(root) :].lstrip("/")) if path.startswith(root) else ""
    parts = name.replace("\\", "/").split("/")
    if not name or ".." in parts or "\\" in name or "\0" in name or ":" in parts[0]:
        fix = "Take it out of the store, or copy the folder to this computer"
        raise MarkupError([Fault(address, f"{path!r} lies outside the folder", fix)])
    return name


def _files(folder: Path) -> list[Path]:
    """Return the files of the copy that are no one's locks or leftovers."""
    return [
        path
        for path in folder.rglob("*")
        if path.is_file() and not _is_hidden(path.relative_to(folder).as_posix())
    ]


def _is_hidden(name: str) -> bool:
    """Return whether a path is of a lock, or of a change under way."""
    return any(part.startswith(".written") for part in PurePosixPath(name).parts)


def _is_written(name: str) -> bool:
    """Return whether a path lies in a written folder of a reach, or of a folder of them."""
    folders = PurePosixPath(name).parts[:-1][:2]
    return any(part == WRITTEN or part.startswith(f"{WRITTEN}-") for part in folders)


def _is_report(name: str) -> bool:
    return PurePosixPath(name).name == REPORT


def _unread(address: str, error: Exception) -> Fault:
    """Return the fault of an address that does not answer or read."""
    fix = "Check the address, the network and whether you may read there"
    return Fault(address, f"it cannot be read ({_short(error)})", fix)


def _refused(address: str, error: BaseException) -> Fault:
    """Return the fault of a store that takes no file."""
    fix = "Check that you may write there, or name a folder on this computer with --out"
    return Fault(address, f"it takes no files ({_short(error)})", fix)


def _short(error: BaseException) -> str:
    """Return an error of a store in one short line."""
    return " ".join(f"{type(error).__name__} {error}".split())[:200]
