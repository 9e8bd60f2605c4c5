"""The sources of a map, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.base.language import tr, tr_count
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
    told = [
        tr_count("{count} DEM file", "{count} DEM files", len(reach.dems)),
        tr_count("{count} traced edge", "{count} traced edges", drawn[0]),
        tr_count("{count} sounding", "{count} soundings", drawn[1]),
        tr_count("{count} noted level", "{count} noted levels", drawn[2]),
        tr_count("{count} noted speed", "{count} noted speeds", drawn[3]),
        tr_count("{count} stretch of edge walked", "{count} stretches of edge walked", walked),
        tr_count("{count} edge of a photo", "{count} edges of a photo", shown),
        tr_count("{count} speed of a drift", "{count} speeds of a drift", drifted),
        tr_count("{count} echo-sounder track", "{count} echo-sounder tracks", len(reach.tracks)),
        tr_count(
            "{depths} depth of an echo sounder",
            "{depths} depths of an echo sounder",
            depths,
            depths=str(depths),
        ),
        tr_count("{count} logged edge", "{count} logged edges", logged[0]),
        tr_count("{count} logged depth", "{count} logged depths", logged[1]),
        tr_count("{count} logged speed", "{count} logged speeds", logged[3]),
    ]
    counts = (len(reach.dems), *drawn, walked, shown, drifted, len(reach.tracks), depths)
    counts += (logged[0], logged[1], logged[3])
    sentences = [
        tr(
            "{banks} bank polygons and {rivers} river lines",
            banks=len(reach.banks),
            rivers=len(reach.rivers),
        )
    ]
    sentences += [words for count, words in zip(counts, told, strict=True) if count]
    if not reach.dems:
        sentences.append(tr("no DEM: heights come from the drawn banks"))
    if not reach.soundings and not reach.tracks:
        sentences.append(tr("no soundings: the bed below low water is a guess"))
    return sentences


def _evidence(reach: Markup) -> tuple[Sequence[Edge | Sounding | Level | Speed], ...]:
    """Return the layers that hold evidence of bed and water."""
    return reach.edges, reach.soundings, reach.levels, reach.speeds
