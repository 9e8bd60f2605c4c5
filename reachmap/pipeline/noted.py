"""All evidence of a reach: drawing and log together, and whether each piece was used."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words import (
    SpeedHow,
)
from reachmap.base.words_runs import StructureKind
from reachmap.ground.used import Fact, Kind, Why, facts_of
from reachmap.logbook.digest import day_of, has_flow
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.store import kept_in
from reachmap.markup.model import Edge, Markup, Origin, Sounding, Speed, StructureMark
from reachmap.pipeline.fitted import StoredFit
from reachmap.pipeline.terrain import drawn_digest
from reachmap.text.evidence import not_used_words, used_words

BY_FIT = frozenset({Why.NEEDS_FIT, Why.NEEDS_DEPTHS, Why.DEM_WATER})
"""Reasons for not using evidence that no longer hold after a fit to these very notes."""


def noted_reach(reach: Markup) -> Markup:
    """Return the drawing with the observations of its folder's log; the input is not changed."""
    return with_log(reach, entries_of(reach))


def entries_of(reach: Markup) -> list[Entry]:
    """Return the trips of a reach's log, oldest first; none without a folder or a log."""
    return [] if reach.folder is None else kept_in(reach.folder)


def with_log(reach: Markup, entries: Sequence[Entry]) -> Markup:
    """Return the drawing with the observations and measurements of trips added to its evidence.

    Each with its place, day and flow, marked as from the log. Trips without a flow are left out:
    an edge seen at an unknown flow is no evidence. The input is not changed.

    Parameters
    ----------
    reach
        The drawing.
    entries
        Of the log.
    """
    pairs = [(one, entry) for entry in entries for one in entry.seen if has_flow(entry)]
    if not pairs:
        return reach
    x, y = transform_points(
        np.array([one.x for one, _ in pairs]),
        np.array([one.y for one, _ in pairs]),
        WGS84,
        reach.crs,
    )
    placed = [
        (one, Point(*at), entry)
        for (one, entry), at in zip(pairs, zip(x, y, strict=True), strict=True)
    ]
    return replace(
        reach,
        edges=(*reach.edges, *_edges(placed)),
        soundings=(*reach.soundings, *_soundings(placed)),
        speeds=(*reach.speeds, *_speeds(placed)),
        structure=(*reach.structure, *_holds(placed)),
    )


def evidence_facts(
    terrain: xr.Dataset, reach: Markup, entries: Sequence[Entry], kept: StoredFit | None
) -> tuple[Fact, ...]:
    """Return for every piece of evidence whether it was used, and why not.

    Parameters
    ----------
    terrain
        The ground, which holds the facts of what it is made from.
    reach
        The drawing with the log's evidence.
    entries
        Of the log.
    kept
        The fit in force, or None: speeds count through it alone.
    """
    facts = list(facts_of(terrain.attrs))
    fitted = kept is not None and kept.drawn == drawn_digest(reach)
    if fitted:
        facts = [replace(one, why=Why.USED) if one.why in BY_FIT else one for one in facts]
    in_fit = kept is not None and kept.found.number.get("speed", 0) >= len(reach.speeds)
    why = Why.USED if in_fit else Why.NEEDS_FIT
    for origin in (Origin.DRAWN, Origin.FLOAT, Origin.LOG):
        count = sum(one.origin is origin for one in reach.speeds)
        facts += [Fact(Kind.SPEED, origin, "", count, why=why)] if count else []
    facts += [
        Fact(Kind.TRIP, Origin.LOG, "", len(entry.seen), day_of(entry), Why.NO_FLOW)
        for entry in entries
        if entry.seen and not has_flow(entry)
    ]
    if reach.gauge is not None and math.isfinite(reach.gauge.zero_m):
        facts.append(Fact(Kind.ZERO, Origin.DRAWN, "", why=Why.NO_PLACE))
    return tuple(facts)


def evidence_report(facts: Sequence[Fact], reach: Markup) -> dict[str, Any]:
    """Return the report's entries on the evidence: sentences on what was used and what not."""
    return {
        "used": used_words(facts),
        "not_used": not_used_words(facts, reach.plan.units),
        "facts": [_row(one) for one in facts],
    }


def _row(fact: Fact) -> Mapping[str, Any]:
    """Return a fact as plain JSON values."""
    return {
        "kind": str(fact.kind),
        "origin": str(fact.origin),
        "name": fact.name,
        "number": fact.number,
        "date": fact.date,
        "not_used": str(fact.why),
        "value": _plain(fact.value),
    }


def _plain(value: float) -> float | None:
    """Return a number JSON can carry."""
    return value if math.isfinite(value) else None


def _edges(placed: Sequence[tuple[Seen, Point, Entry]]) -> list[Edge]:
    """Return the logged edges, a point each."""
    return [
        Edge(at, entry.flow, day_of(entry), Origin.LOG)
        for one, at, entry in placed
        if one.kind is SeenKind.EDGE
    ]


def _soundings(placed: Sequence[tuple[Seen, Point, Entry]]) -> list[Sounding]:
    """Return the logged depths."""
    return [
        Sounding("", at, one.value, entry.flow, math.nan, Origin.LOG, day_of(entry))
        for one, at, entry in placed
        if one.kind is SeenKind.SOUNDING
    ]


def _speeds(placed: Sequence[tuple[Seen, Point, Entry]]) -> list[Speed]:
    """Return the logged speeds: of a stick on the surface."""
    return [
        Speed(at, one.value, entry.flow, SpeedHow.SURFACE, Origin.LOG)
        for one, at, entry in placed
        if one.kind is SeenKind.SPEED
    ]


def _holds(placed: Sequence[tuple[Seen, Point, Entry]]) -> list[StructureMark]:
    """Return the logged places where fish held, at the flow of their trip."""
    return [
        StructureMark(at, structure_in(one.note), entry.flow, one.note, Origin.LOG)
        for one, at, entry in placed
        if one.kind is SeenKind.HOLD
    ]


def structure_in(note: str) -> StructureKind:
    """Return the structure that a note names first; a bucket where it names none."""
    plain = note.lower().replace("-", " ").replace("_", " ")
    named = [
        (place, kind)
        for kind in StructureKind
        if (place := plain.find(kind.value.replace("_", " "))) >= 0
    ]
    return min(named)[1] if named else StructureKind.BUCKET
