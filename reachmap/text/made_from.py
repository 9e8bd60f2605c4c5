"""The sources of a map, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.markup.model import Edge, Level, Markup, Origin, Sounding, Speed


def made_from(reach: Markup) -> list[str]:
    """Return plain sentences on the layers and files a map was made from."""
    logged, drawn = (
        [sum(one.origin is origin for one in some) for some in _evidence(reach)]
        for origin in (Origin.LOG, Origin.DRAWN)
    )
    walked, shown = (
        sum(one.origin is origin for one in reach.edges) for origin in (Origin.WALK, Origin.PHOTO)
    )
    drifted = sum(one.origin is Origin.FLOAT for one in reach.speeds)
    depths = sum(track.depth_m.size for track in reach.tracks)
    counts = (
        (len(reach.dems), "DEM file"),
        *zip(drawn, ("traced edge", "sounding", "noted level", "noted speed"), strict=True),
        (walked, "stretch of edge walked"),
        (shown, "edge of a photo"),
        (drifted, "speed of a drift"),
        (len(reach.tracks), "echo-sounder track"),
        (depths, "depth of an echo sounder"),
        *zip(logged, ("logged edge", "logged depth", "", "logged speed"), strict=True),
    )
    sentences = [f"{len(reach.banks)} bank polygons and {len(reach.rivers)} river lines"]
    sentences += [_counted(count, word) for count, word in counts if count]
    if not reach.dems:
        sentences.append("no DEM: heights come from the drawn banks")
    if not reach.soundings and not reach.tracks:
        sentences.append("no soundings: the bed below low water is a guess")
    return sentences


def _evidence(reach: Markup) -> tuple[Sequence[Edge | Sounding | Level | Speed], ...]:
    """Return the layers that hold evidence of bed and water."""
    return reach.edges, reach.soundings, reach.levels, reach.speeds


def _counted(count: int, word: str) -> str:
    """Return a number of things."""
    first, of, rest = word.partition(" of ")
    many = "" if count == 1 else "es" if first.endswith("ch") else "s"
    return f"{count} {first}{many}{of}{rest}"
