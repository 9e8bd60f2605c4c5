"""Writer of an empty reach folder: a commented reach.toml and a drawing without features."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from reachmap.base.crs import WGS84
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.markup.config.render import template
from reachmap.markup.files import REACH_FILE
from reachmap.markup.write import MARKUP_FILE, empty_layers, write_layers


def write_new(folder: Path, units: UnitSystem = UnitSystem.US) -> tuple[Path, ...]:
    """Write an empty reach folder and return its files; all or nothing.

    Parameters
    ----------
    folder
        Where to write it. It may exist, with a DEM in it for example, but must not contain
        reach.toml or markup.gpkg.
    units
        Of the folder.

    Raises
    ------
    MarkupError
        If a file would be overwritten, or `folder` is a file.
    """
    names = (REACH_FILE, MARKUP_FILE)
    _refuse(folder, names)
    made = not folder.exists()
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(exist_ok=True)
    placed: list[Path] = []
    try:
        with tempfile.TemporaryDirectory(prefix=".new-", dir=folder) as aside:
            (Path(aside) / REACH_FILE).write_text(template(units), encoding="utf-8")
            write_layers(Path(aside) / MARKUP_FILE, empty_layers(WGS84))
            for name in names:
                _place(Path(aside) / name, folder / name)
                placed.append(folder / name)
    except BaseException:
        for path in placed:
            path.unlink(missing_ok=True)
        if made:
            _remove_if_empty(folder)
        raise
    return tuple(placed)


def _refuse(folder: Path, names: tuple[str, ...]) -> None:
    """Raise where a new folder would overwrite something."""
    if folder.exists() and not folder.is_dir():
        fix = "Name a new folder"
        raise MarkupError([Fault(str(folder), "it is a file, not a folder", fix)])
    fix = "Name another folder, or move that file away: nothing is overwritten"
    faults = [
        Fault(str(folder), f"it holds a {name} already", fix)
        for name in names
        if (folder / name).exists()
    ]
    if faults:
        raise MarkupError(faults)


def _place(source: Path, target: Path) -> None:
    """Move a file without overwriting, even one created in the meantime."""
    try:
        os.link(source, target)  # fails where the target exists, unlike a rename
    except FileExistsError:
        fix = "Name another folder: nothing is overwritten"
        raise MarkupError([Fault(str(target), "it was made in the meantime", fix)]) from None
    except OSError:  # a file system without hard links
        if target.exists():
            fix = "Name another folder: nothing is overwritten"
            raise MarkupError([Fault(str(target), "it was made in the meantime", fix)]) from None
        source.replace(target)


def _remove_if_empty(folder: Path) -> None:
    """Remove a folder created by a failed attempt, if empty."""
    try:
        folder.rmdir()
    except OSError:
        return
