"""An empty reach folder to begin with: a commented reach.toml and a drawing without features."""

from __future__ import annotations

import os
import tempfile
from importlib import resources
from pathlib import Path

from reachmap.base.crs import WGS84
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.markup.files import REACH_FILE
from reachmap.markup.own_keys import template_lines
from reachmap.markup.write import MARKUP_FILE, empty_layers, write_layers

TEMPLATE = "starter.toml"
OWN_HEAD = (
    "",
    "# Everything below is in force as it stands; take the # away to change it (the line of its",
    "# section too). Where a number is from stands behind it.",
)
"""What stands before the numbers one may change."""


METRIC = (
    ('units = "us"    ', 'units = "metric"'),
    ("traced_flow = 1200", "traced_flow = 34  "),
    ("# fall = 16", "# fall = 5 "),
    ("list = [800, 1200, 1800, 2400, 3200]", "list = [22, 34, 50, 68, 90]         "),
    ("# from = 800", "# from = 22"),
    ("# to = 3200", "# to = 90"),
    ("or: step = 600", "or: step = 17"),
    ("# zero = 412.6", "# zero = 125.8"),
    ("# flow = 850", "# flow = 24 "),
    ("# depth = [1.5, 6]   ", "# depth = [0.45, 1.8]"),
    ("# speed = [1, 3]    ", "# speed = [0.3, 0.9]"),
    ('height = "5 ft 10 in"', 'height = "1.78 m"'),
    ('wade_limit = "3 ft" ', 'wade_limit = "0.9 m"'),
    ('leader = "4 ft"', 'leader = "1.2 m"'),
    ('cast_limit = "80 ft"', 'cast_limit = "24 m" '),
    ('name = "my 13 footer"', 'name = "my 4 metre rod"'),
    ('length = "13 ft"', 'length = "4 m"'),
    ('length = "24 ft"', 'length = "7.3 m"'),
    ('# weight = "540 gr"', '# weight = "35 g"  '),
    ('length = "10 ft"', 'length = "3 m"'),
    ('sink = "7.5 in/s"', 'sink = "19 cm/s"'),
)
"""What stands in a metric folder's reach.toml in place of what stands in a US one."""


def template(units: UnitSystem = UnitSystem.US) -> str:
    """Return the commented reach.toml of a new folder, its examples in the folder's units."""
    text = (resources.files("reachmap.markup") / TEMPLATE).read_text(encoding="utf-8")
    if units is UnitSystem.METRIC:
        for us, metric in METRIC:
            text = text.replace(us, metric)
    return "\n".join([text.rstrip(), *OWN_HEAD, *template_lines(), ""])


def write_new(folder: Path, units: UnitSystem = UnitSystem.US) -> tuple[Path, ...]:
    """Write an empty reach folder and return its files; whole, or nothing at all.

    Parameters
    ----------
    folder
        Where it shall be. It may exist, with a DEM in it for example, but hold no reach.toml and
        no markup.gpkg yet.
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
    """Move a file to a place where none is; also one that came in the meantime is not lost."""
    try:
        os.link(source, target)  # fails where the target exists, unlike a rename
    except FileExistsError:
        fix = "Name another folder: nothing is overwritten"
        raise MarkupError([Fault(str(target), "it was made in the meantime", fix)]) from None
    except OSError:  # a file system without links
        if target.exists():
            fix = "Name another folder: nothing is overwritten"
            raise MarkupError([Fault(str(target), "it was made in the meantime", fix)]) from None
        source.replace(target)


def _remove_if_empty(folder: Path) -> None:
    """Remove a folder that was made for nothing."""
    try:
        folder.rmdir()
    except OSError:
        return
