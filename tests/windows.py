"""What Windows would make of the files in a folder, told on any system."""

from __future__ import annotations

from collections import Counter

from reachmap.base.paths import fits_windows

LONGEST = 120
"""Signs of a path below the reach folder: Windows takes 260 where long paths are not switched on
(MAX_PATH, from memory), and a home folder may take half of them."""


def windows_hazards(folder):
    """Names of files below a folder that Windows refuses, mixes up or finds too long."""
    names = [path.relative_to(folder).as_posix() for path in folder.rglob("*")]
    bad = [name for name in names if not all(map(fits_windows, name.split("/")))]
    folded = Counter(name.casefold() for name in names)
    bad += [name for name in names if folded[name.casefold()] > 1]
    return bad + [name for name in names if len(name) > LONGEST]
