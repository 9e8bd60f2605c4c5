"""What a map was made from, in sentences."""

from __future__ import annotations

from reachmap.markup.model import Markup


def made_from(reach: Markup) -> list[str]:
    """Return plain sentences on what the angler gave."""
    counts = (
        (len(reach.dems), "DEM file"),
        (len(reach.edges), "traced edge"),
        (len(reach.soundings), "sounding"),
        (len(reach.levels), "noted level"),
        (len(reach.speeds), "noted speed"),
    )
    told = [f"{len(reach.banks)} bank polygons and {len(reach.rivers)} river lines"]
    told += [f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts if count]
    if not reach.dems:
        told.append("no DEM: heights come from the drawn banks")
    if not reach.soundings:
        told.append("no soundings: the bed below low water is a guess")
    return told
