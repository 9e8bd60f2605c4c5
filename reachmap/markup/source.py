"""A layer as read from a file, before it is checked."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd

from reachmap.base.errors import Fault
from reachmap.markup.file_facts import FileFact


@dataclass(frozen=True, slots=True)
class Source:
    """One layer as found in one file.

    Parameters
    ----------
    layer
        Name in the register.
    file
        The file, and the layer in it where it has several, for messages.
    frame
        Features in the file's CRS; columns by plain name; index 1, 2, ... as in the file.
    closes
        Whether closed lines represent polygons, since the format has none.
    """

    layer: str
    file: str
    frame: gpd.GeoDataFrame
    closes: bool = False


@dataclass(slots=True)
class Sources:
    """All layers found, with faults and notes of opening them, and the use made of each file."""

    found: list[Source] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    facts: list[FileFact] = field(default_factory=list)
