"""Selection of the folder's ground rasters; those elsewhere are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.errors import Fault
from reachmap.markup.dem_look import Tile, look_at_tiles
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found

NEAR_M = 300.0
"""Largest distance of a tile from the river lines [m] (our choice: beyond the
widest bank that one draws)."""


@dataclass(frozen=True, slots=True)
class Terrain:
    """Tiles to use, faults of files with a reserved name, and the use made of each file."""

    tiles: tuple[Tile, ...]
    faults: tuple[Fault, ...]
    facts: tuple[FileFact, ...]


def look_at_terrain(found: Sequence[Found], crs: str, rivers: Sequence[BaseGeometry]) -> Terrain:
    """Return the tiles of the ground: by reserved name first, then by content.

    Parameters
    ----------
    found
        All files of the folder.
    crs
        The project's CRS, "" where it is not known.
    rivers
        Drawn river lines in it.
    """
    tiles: list[Tile] = []
    faults: list[Fault] = []
    facts: list[FileFact] = []
    files = [one for one in found if one.fact.use is Use.TERRAIN]
    for one in sorted(files, key=lambda one: not one.named):
        looked, wrong = look_at_tiles([one.path], crs)
        if wrong and one.named:
            faults += wrong
            facts.append(_unused(one, Unused.REFUSED, wrong[0]))
        elif wrong:
            facts.append(_unused(one, Unused.REFUSED, wrong[0]))
        elif not one.named and rivers and not _reaches(looked[0], rivers):
            facts.append(_unused(one, Unused.ELSEWHERE))
        else:
            tiles += looked
            facts.append(one.fact)
    for one in found:
        if one.fact.why is Unused.ODD_LIST and one.named:
            faults.append(Fault(f"DEM {one.path.name}", one.fact.detail, one.fact.fix))
    return Terrain(tuple(tiles), tuple(faults), tuple(facts))


def _unused(one: Found, why: Unused, fault: Fault | None = None) -> FileFact:
    """Return why a file is not used."""
    fact = replace(one.fact, use=Use.NOTHING, why=why)
    return fact if fault is None else replace(fact, detail=fault.found, fix=fault.fix)


def _reaches(tile: Tile, rivers: Sequence[BaseGeometry]) -> bool:
    """Return whether a tile lies near a river line; True where its place is unknown."""
    if tile.outline.is_empty:
        return True
    return any(shapely.distance(tile.outline, river) <= NEAR_M for river in rivers)
