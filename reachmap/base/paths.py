"""Paths that data names: allowed only where they stay inside the folder they belong to."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

from reachmap.base.errors import ReachmapError


class OutsideError(ReachmapError):
    """A name read from data leads out of the folder it belongs to."""


def inside(folder: Path, name: str) -> Path:
    """Return the path of `name` within `folder`, links followed.

    Every path that comes from data (a report, a layer's field, an upload) goes through here before
    anything is opened, written or removed.

    Parameters
    ----------
    folder
        The folder that the name belongs to.
    name
        A relative name; slashes of either kind part it.

    Raises
    ------
    OutsideError
        If the name is empty, absolute on any system, holds `..`, a drive letter or a NUL, or leads
        out of the folder over a symbolic link.
    """
    parts = PureWindowsPath(name).parts
    odd = not parts or "\0" in name or ".." in parts
    if odd or PurePosixPath(name).is_absolute() or PureWindowsPath(name).anchor:
        raise OutsideError(_message(folder, name))
    path = folder.joinpath(*parts)
    if not stays_inside(folder, path):
        raise OutsideError(_message(folder, name))
    return path


def stays_inside(folder: Path, path: Path) -> bool:
    """Return whether `path`, links followed, lies within `folder`, links followed.

    The path need not exist. A loop of links counts as outside.
    """
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        return False


def _message(folder: Path, name: str) -> str:
    """Return what is wrong with a name."""
    return f"{name!r} leads out of the folder {folder.name!r}. Use a name inside it"
