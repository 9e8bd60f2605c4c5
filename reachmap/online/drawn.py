"""The box of the river that a folder has drawn."""

from __future__ import annotations

from pathlib import Path

from reachmap.base.crs import outside
from reachmap.markup.sources import read_sources
from reachmap.online.box import Box, checked, rounded
from reachmap.online.model import Kind

MARGIN_KM = 0.3
"""Ground beyond the river line that is asked for too [km] (our choice): banks and the room behind
them, 0.1-1."""


def river_drawn(folder: Path) -> bool:
    """Return whether some file of the folder holds a river line."""
    sources = read_sources(folder, "")
    return any(one.layer == Kind.RIVER and len(one.frame) for one in sources.found)


def drawn_box(folder: Path) -> Box | None:
    """Return the box about the drawn river, with its banks; None where none is drawn.

    Raises
    ------
    BoxError
        If it is larger than what is asked about.
    """
    frames = [
        outside(one.frame)
        for one in read_sources(folder, "").found
        if one.layer == Kind.RIVER and len(one.frame) and one.frame.crs is not None
    ]
    if not frames:
        return None
    west, south, east, north = frames[0].total_bounds
    box = rounded(west, south, east, north).wider(MARGIN_KM)
    return checked(*box.bounds, where=str(folder))
