"""Atomic replacement of a folder: a new generation is made beside it, then takes its place.

For a folder `written` there are, beside it and only while something is under way:

- `.written-new`: the next generation, being made. Everything in it is ours.
- `.written-old`: the generation before, from the moment it was renamed until what is not ours in
  it (other people's files, the cache) has been moved over and the rest removed.
- `.written.lock`, `.written.lock.holder`: who writes (`base.lock`).

The change-over is two renames, `written` to `.written-old` and `.written-new` to `written`. One
rename that exchanges two folders exists on few systems, and a link that points at the generation
in use needs rights on Windows and does not survive a copy to a stick; so two it is, and what is
there afterwards says by itself how far it came. No journal is needed:

========  ==============  ==============  ==========================================================
written   .written-new    .written-old    what happened, and what `settle` does
========  ==============  ==============  ==========================================================
there     there           -               killed while the new one was made: the new one is dropped
there     -               -               nothing
-         there           there           killed between the renames: the new one is put in place
-         -               there           it vanished: the old one is put back
there     -               there           killed after the renames: what is not ours is moved over,
                                          the rest of the old one is removed
there     there           there           another program made `written` between the renames: its
                                          files join the old one's, then as between the renames
========  ==============  ==============  ==========================================================

At each of these moments `written` is one generation, whole, or not there; never two mixed. Other
people's files and the cache are moved by renames, so they are never copied and never in two
places; until `settle` has run after a kill they may be in `.written-old`.

A file of the old generation is removed only where its report lists it with the digest it still
has: a report that names files outside the folder, or files of other people, removes nothing. What
stands in the way of the new generation without being ours is moved into `kept/`.
"""

from __future__ import annotations

import json
import os
import shutil
import time
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from reachmap.base.disk import sync_folder, sync_tree
from reachmap.base.errors import ReachmapError
from reachmap.base.fingerprint import digest_file
from reachmap.base.leftovers import is_leftover, remove_leftover, sweep
from reachmap.base.paths import OutsideError, inside

REPORT = "report.json"
CACHE = "cache"
KEPT = "kept"
"""Folder for files that are not ours and whose place the new generation needs."""

TRIES, PAUSE_S = 20, 0.1
"""How often, and how far apart [s], a rename is tried that another program's open file hinders.

Our choice: virus scanners and indexers let go within a second or two."""


class InUseError(ReachmapError):
    """Another program holds the folder, or a file in it, open."""


def read_report(folder: Path) -> dict[str, Any]:
    """Return the report in a written folder; empty where there is none that can be read."""
    try:
        report = json.loads(inside(folder, REPORT).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError, OutsideError):
        return {}
    return report if isinstance(report, dict) else {}


def listed_files(folder: Path) -> dict[str, str]:
    """Return the files that the report of a written folder lists, and their digests.

    Names that lead out of the folder are left out.
    """
    files = read_report(folder).get("files")
    found = {}
    for name, digest in (files if isinstance(files, dict) else {}).items():
        with suppress(OutsideError, OSError, ValueError):
            path = inside(folder, name)
            found[path.relative_to(folder).as_posix()] = str(digest)
    return found


def is_intact(folder: Path, name: str, digest: str) -> bool:
    """Return whether a plain file in a folder is there and has a digest.

    False for names that lead out of the folder, links and whatever is no file.
    """
    try:
        path = inside(folder, name)
        return path.is_file() and not path.is_symlink() and digest_file(path) == digest
    except (OSError, ValueError, OutsideError):
        return False


def new_path(folder: Path) -> Path:
    """Return where the next generation of a folder is made; links to the folder are followed."""
    real = folder.resolve()
    return real.parent / f".{real.name}-new"


def old_path(folder: Path) -> Path:
    """Return where the generation before is put; links to the folder are followed."""
    real = folder.resolve()
    return real.parent / f".{real.name}-old"


def is_interrupted(folder: Path) -> bool:
    """Return whether a change of a folder was begun and not finished."""
    return any(os.path.lexists(path(folder)) for path in (new_path, old_path))


def begin(folder: Path) -> Path:
    """Return an empty folder to make the next generation in; the lock must be held.

    An interrupted change is settled first.
    """
    settle(folder)
    new = new_path(folder)
    new.mkdir(parents=True)
    return new


def drop(folder: Path) -> None:
    """Remove a next generation that will not be finished."""
    new = new_path(folder)
    if new.is_symlink() or new.is_file():
        new.unlink()
    elif new.exists():
        shutil.rmtree(new)


def change_over(folder: Path) -> None:
    """Put the generation made by `begin` in place of the folder; the lock must be held.

    Raises
    ------
    InUseError
        If another program holds the folder open; it is then as it was.
    """
    new, old, real = new_path(folder), old_path(folder), folder.resolve()
    sync_tree(new)
    if os.path.lexists(real):
        _rename(real, old)
    try:
        _rename(new, real)
    except BaseException:
        if os.path.lexists(old) and not os.path.lexists(real):
            old.rename(real)
        raise
    sync_folder(real.parent)
    with suppress(OSError, InUseError):  # whatever hinders it now, the next start tries again
        _move_over(old, real)


def settle(folder: Path) -> None:
    """Finish or undo an interrupted change of a folder and sweep up after it.

    The lock must be held: nothing here may belong to a run that is still at work.
    """
    new, old, real = new_path(folder), old_path(folder), folder.resolve()
    if os.path.lexists(old):
        if os.path.lexists(new) and os.path.lexists(real):
            _merge(real, old, {})
            real.rmdir()
        if not os.path.lexists(real):
            _rename(new if os.path.lexists(new) else old, real)
            sync_folder(real.parent)
        _move_over(old, real)
    drop(real)
    cache = real / CACHE
    if os.path.lexists(cache) and (cache.is_symlink() or not cache.is_dir()):
        _move(cache, _kept_path(real, CACHE))
    if real.is_dir():
        sweep(real, CACHE)


def _move_over(old: Path, folder: Path) -> None:
    """Move from the old generation what is not ours, and remove the rest, its report last."""
    if not os.path.lexists(old):
        return
    listed = listed_files(old)
    for name, digest in listed.items():
        if is_intact(old, name, digest):
            (old / name).unlink(missing_ok=True)
    _merge(old, folder, listed)
    (old / REPORT).unlink(missing_ok=True)
    old.rmdir()
    sync_folder(folder)
    sync_folder(folder.parent)


def _merge(source: Path, folder: Path, listed: dict[str, str], inner: str = "") -> None:
    """Move everything in `source` but its report to the same place in `folder`.

    Links are moved as links. A folder goes by one rename where nothing in it is listed and its
    place is free. What is listed was changed by someone since it was written, so it goes into
    `kept/`, as does whatever finds its place taken.

    Parameters
    ----------
    source, folder
        Folders to move from and to.
    listed
        Names of the files that the report in `source` lists.
    inner
        Folder within `source` to move; empty for all of it.
    """
    for path in sorted((source / inner).iterdir()):
        name = path.relative_to(source).as_posix()
        target = folder / name
        if name == REPORT and listed:
            continue
        if is_leftover(name, path):
            remove_leftover(path)
        elif _is_folder(path) and (_is_folder(target) or _holds_listed(name, listed)):
            _merge(source, folder, listed, name)
            path.rmdir()
        elif name in listed or _is_taken(folder, name):
            _move(path, _kept_path(folder, name))
        else:
            _move(path, target)


def _holds_listed(name: str, listed: dict[str, str]) -> bool:
    """Return whether a report lists a file below a folder."""
    return any(one.startswith(f"{name}/") for one in listed)


def _is_folder(path: Path) -> bool:
    """Return whether a path is a folder itself, not a link to one."""
    return path.is_dir() and not path.is_symlink()


def _is_taken(folder: Path, name: str) -> bool:
    """Return whether something is at a place, or in the way to it: a file, or a link anywhere."""
    target = folder / name
    between = target.parents[: len(target.relative_to(folder).parts) - 1]
    blocked = any(os.path.lexists(one) and not _is_folder(one) for one in between)
    return blocked or os.path.lexists(target)


def _kept_path(folder: Path, name: str) -> Path:
    """Return a free place below `kept/` for a file or folder of that name."""
    tops = (KEPT if number == 1 else f"{KEPT}-{number}" for number in count(1))
    top = next(one for one in tops if not _is_taken(folder, one) or _is_folder(folder / one))
    places = (name if number == 1 else f"{number}/{name}" for number in count(1))
    return next(folder / top / place for place in places if not _is_taken(folder, f"{top}/{place}"))


def _move(path: Path, target: Path) -> None:
    """Move a file, link or folder to a free place on the same disk."""
    target.parent.mkdir(parents=True, exist_ok=True)
    mode = path.lstat().st_mode
    if _is_folder(path) and not os.access(path, os.W_OK):
        path.chmod(mode | 0o700)  # a folder that may not be changed may not be moved either
    _rename(path, target)
    if _is_folder(target) and target.lstat().st_mode != mode:
        target.chmod(mode)


def _rename(path: Path, target: Path) -> None:
    """Rename, and try again for a while where another program holds a file open (Windows).

    Raises
    ------
    InUseError
        If it cannot be renamed; it is then as it was.
    """
    for attempt in range(TRIES):
        try:
            path.rename(target)
        except PermissionError as error:
            if not _waits() or attempt == TRIES - 1:
                raise InUseError(_in_use(path, error)) from error
            time.sleep(PAUSE_S)
        else:
            return


def _waits() -> bool:
    """Return whether a refused rename may be allowed soon: on Windows, where files are held."""
    return os.name == "nt"


def _in_use(path: Path, error: OSError) -> str:
    """Return the message for a folder that cannot be renamed."""
    return (
        f"{path}: cannot be replaced ({error.strerror}). Close every program that shows a file in "
        "it, and see that you may write beside it; nothing in it was changed"
    )
