"""Validation of paths that come from data: they must stay inside their folder."""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePosixPath, PureWindowsPath

from reachmap.base.errors import ReachmapError


class OutsideError(ReachmapError):
    """A name read from data leads out of the folder it belongs to."""


ON_WINDOWS = os.name == "nt"

_PORTS = (f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³")
DEVICES = frozenset(("con", "prn", "aux", "nul", "conin$", "conout$", *_PORTS))
"""Names that Windows keeps for devices, in any folder and with any ending (Microsoft, Naming Files,
Paths, and Namespaces, from memory)."""

FORBIDDEN = re.compile(r'[<>:"|?*\x00-\x1f]')
"""Characters that no name on Windows may hold; a colon would begin a hidden stream of the file."""


def fits_windows(part: str) -> bool:
    """Return whether Windows takes one name of a path as the file that it names.

    Not so: a device's name, with an ending too; forbidden characters; a dot or a blank at the end,
    which Windows drops, so that two names are one file.

    Examples
    --------
    >>> fits_windows("depth_2400cfs.tif"), fits_windows("aux.json"), fits_windows("12:00.csv")
    (True, False, False)
    """
    device = part.split(".")[0].rstrip(" ").lower() in DEVICES
    return not (device or FORBIDDEN.search(part) or part != part.rstrip(" ."))


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
        out of the folder over a symbolic link; on Windows, if a part of it names a device, a hidden
        stream or another file than it says.
    """
    parts = PureWindowsPath(name).parts
    odd = not parts or "\0" in name or ".." in parts
    odd = odd or (ON_WINDOWS and not all(map(fits_windows, parts)))
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
