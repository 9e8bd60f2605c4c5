"""Rows of the water stage's layers at one flow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import chain
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import LineString, Polygon, intersection, prepare
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.schema import layer_frame
from reachmap.base.words import Confidence, Lack, Side, WaterKind
from reachmap.markup.model import SeasonLimits
from reachmap.water.bands import densest
from reachmap.water.candidates import unclaimed
from reachmap.water.codes import codes_of
from reachmap.water.corridor import Corridor
from reachmap.water.field import WaterField
from reachmap.water.fold import folded
from reachmap.water.known_bed import known_bed
from reachmap.water.lanes import Lane
from reachmap.water.score import Piece, factors_of
from reachmap.water.seams import Seam
from reachmap.water.settings import (
    CorridorSettings,
    ScoreSettings,
    TailoutSettings,
    WaterSettings,
)
from reachmap.water.stretches import Sections
from reachmap.water.tailouts import Tailout
from reachmap.water.zones import Zone, largest, outline, outline_of_odds, pieces


def _base(field: WaterField) -> dict[str, Any]:
    """Return the columns every layer of one flow begins with."""
    return {"flow": field.flow, "flow_label": field.label}


def widths_along(station: FloatArray, cell: float, *, bin_m: float = 8.0) -> FloatArray:
    """Return the width of a piece across the river [m] by stretches of `bin_m`, downstream."""
    bins = np.floor((station - station.min()) / bin_m).astype(np.int64)
    counts = np.bincount(bins)
    last = station.max() - station.min() - (counts.size - 1) * bin_m
    lengths = np.full(counts.size, bin_m)
    lengths[-1] = max(last, cell)
    return np.asarray(counts * cell**2 / lengths)


def confidence_of(field: WaterField, zone: Zone, settings: ScoreSettings) -> Confidence:
    """Return a zone's confidence: that of its bed, one step lower next to unknown water."""
    grade = float(np.nan_to_num(np.nanmedian(field.confidence.window(*zone.place)[zone.mask])))
    step = 2 if grade >= settings.sure_good else 1 if grade >= settings.sure_fair else 0
    if field.unknown[zone.place].any():
        step -= 1
    return (Confidence.LOW, Confidence.LOW, Confidence.FAIR, Confidence.GOOD)[step + 1]


def least_length(field: WaterField, kind: WaterKind, settings: ScoreSettings) -> float:
    """Return the length under which a piece of water does not stand alone [m].

    A tailout is short by nature: it lies from bank to bank.
    """
    if kind is WaterKind.TAILOUT:
        return settings.tailout_length_low_m
    return min(settings.length_low_m, settings.length_low_widths * field.width)


def _tailout_known(field: WaterField, zone: Zone, settings: TailoutSettings) -> bool:
    """Return whether enough of a zone's bed is known to locate a tailout in it."""
    sure = field.confidence.window(*zone.place)[zone.mask]
    known = known_bed(sure, settings, levelled=field.levelled)
    return bool(known.mean() >= settings.known_share)


def _outline(field: WaterField, zone: Zone, settings: WaterSettings) -> Polygon | None:
    """Return a candidate's outline [m]."""
    return outline_of_odds(zone.mask, zone.place, zone.odds, settings.suits.line, field.grid)


def water_row(
    field: WaterField,
    zone: Zone,
    sections: Sections,
    limits: SeasonLimits,
    rules: WaterSettings,
) -> dict[str, Any] | Lack:
    """Return one candidate's row, code and run still empty, or the reason it is rejected."""
    settings = rules.score
    gaps = field.gap_left, field.gap_right
    inside = [a[zone.place][zone.mask] for a in (field.depth, field.speed, field.station)]
    depth, speed, station = inside
    bank = np.fmin(*(gap.window(*zone.place)[zone.mask] for gap in gaps))
    known = np.isfinite(station)
    if known.sum() < 3:
        return Lack.UNKNOWN
    start, end = (float(v) for v in np.quantile(station[known], (0.01, 0.99)))
    across = widths_along(station[known], field.grid.cell)
    width = float(np.median(across))
    if end - start < least_length(field, zone.kind, settings) or width < settings.width_low_m:
        return Lack.SMALL
    factors = factors_of(Piece(depth, speed, station, bank, end - start, width), limits, settings)
    if factors.score < settings.score_low:
        return factors.weakest
    shape = _outline(field, zone, rules)
    if shape is None:
        return Lack.SMALL
    third = max(across.size // 3, 1)
    prime = end - start >= settings.prime_length_m and factors.score >= settings.prime_score
    return _base(field) | {
        "code": "",
        "kind": zone.kind.value,
        "side": zone.side.value,
        "stretch": sections.number(zone.section, zone.side),
        "station_m": start,
        "station_end_m": end,
        "length_m": end - start,
        "width_m": width,
        "depth_m": float(np.nanmedian(depth)),
        "speed_m_s": float(np.nanmedian(speed)),
        "score": factors.score,
        "factor_depth": factors.depth,
        "factor_speed": factors.speed,
        "factor_even": factors.even,
        "factor_size": factors.size,
        "factor_reach": factors.reach,
        "confidence": confidence_of(field, zone, settings).value,
        "run": "",
        "width_head_m": float(np.median(across[:third])),
        "width_tail_m": float(np.median(across[-third:])),
        "bank_m": float(np.nanmedian(bank)),
        "prime": bool(prime),
        "odds": float(zone.odds[zone.place][zone.mask].mean()),
        "tailout_untold": not _tailout_known(field, zone, rules.tailouts),
        "geometry": shape,
    }


def passing_side(left: FloatArray, bin_m: float, row: Mapping[str, Any]) -> float:
    """Return the share of the fish that pass on a piece's side of the river, 0 to 1.

    The mean over the stretches it spans; NaN where no fish passes, and against an island, which has
    water on both its sides.

    Parameters
    ----------
    left
        Share that passes nearer the left bank, by stretches of `bin_m` [m] from station 0.
    row
        The piece's `side`, `station_m` and `station_end_m`.
    """
    first, last = (max(int(row[name] // bin_m), 0) for name in ("station_m", "station_end_m"))
    here = left[first : last + 1]
    here = here[np.isfinite(here)]
    if not here.size or row["side"] == Side.ISLAND:
        return float("nan")
    share = float(here.mean())
    return share if row["side"] == Side.LEFT else 1.0 - share


def water_layers(
    field: WaterField,
    zones: Iterator[Zone],
    sections: Sections,
    wetted: gpd.GeoDataFrame,
    corridor: Corridor,
    limits: SeasonLimits,
    settings: WaterSettings,
) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers `water` and `left_over`.

    Short candidates are folded into those they touch; the others are cut to the wetted area and
    named by their kind and stretch. What is no piece, for want of size, evenness or whatever else,
    is left over, with the reason; so are strips too thin to be a candidate at all.
    """
    rows, over = [], []
    least = partial(least_length, field, settings=settings.score)
    claimed = list(zones)
    thin = ((zone, Lack.SMALL) for zone in unclaimed(field, claimed, limits, settings))
    judged = (
        (zone, water_row(field, zone, sections, limits, settings))
        for zone in folded(claimed, field, least)
    )
    for zone, row in chain(judged, thin):
        if not isinstance(row, Lack):
            side = passing_side(corridor.left, settings.corridor.bin_m, row)
            rows.append(row | {"passing": side})
        elif (outer := _outline(field, zone, settings)) is not None:
            area = float(zone.mask.sum()) * field.grid.cell**2
            why = {"kind": zone.kind.value, "why": row.value, "area_m2": area, "geometry": outer}
            over.append(_base(field) | why)
    wet: BaseGeometry = wetted.geometry.union_all()
    prepare(wet)
    kept = []
    for row in sorted(rows, key=lambda r: (r["station_m"], r["station_end_m"], r["side"])):
        shape: Polygon | None = row["geometry"]
        if not wet.contains_properly(shape):
            shape = largest(intersection(shape, wet))
        if shape is not None and shape.area > 0:
            kept.append(row | {"geometry": shape})
    for row, code in zip(kept, codes_of(kept), strict=True):
        row["code"] = code
    crs = field.grid.crs
    return {
        "water": layer_frame("water", kept, crs),
        "left_over": layer_frame("left_over", over, crs),
    }


def seams_layer(field: WaterField, seams: list[Seam]) -> gpd.GeoDataFrame:
    """Return the seams as a layer, numbered downstream."""
    order = sorted(seams, key=lambda s: float(np.nan_to_num(field.station[s.rows[0], s.cols[0]])))
    rows = [
        _base(field)
        | {
            "code": f"L{number}",
            "strength": seam.strength,
            "length_m": seam.length_m,
            "slow_side": seam.slow_side.value,
            "from_junction": seam.from_junction,
            "fast_m_s": seam.fast_m_s,
            "slow_m_s": seam.slow_m_s,
            "thickness_m": seam.thickness_m,
            "eddy": seam.eddy,
            "lasts_m": seam.lasts_m,
            "chance": seam.chance,
            "geometry": LineString(seam.points).simplify(0.2 * field.grid.cell),
        }
        for number, seam in enumerate(order, start=1)
    ]
    return layer_frame("seams", rows, field.grid.crs)


def tailouts_layer(field: WaterField, tailouts: list[Tailout]) -> gpd.GeoDataFrame:
    """Return the tailouts as a layer, numbered downstream."""
    order = sorted(tailouts, key=lambda t: float(t.thalweg.station[t.lip]))
    rows = []
    for number, tailout in enumerate(order, start=1):
        line = LineString(tailout.thalweg.points[tailout.start : tailout.lip + 1])
        rows.append(
            _base(field)
            | {
                "code": f"P{number}",
                "lip_station_m": float(tailout.thalweg.station[tailout.lip]),
                "length_m": line.length,
                "lip_depth_m": tailout.lip_depth_m,
                "lip_speed_m_s": tailout.lip_speed_m_s,
                "residual_m": tailout.residual_m,
                "start_depth_m": tailout.start_depth_m,
                "start_speed_m_s": tailout.start_speed_m_s,
                "walking_side": tailout.walking_side.value,
                "channel": tailout.thalweg.channel,
                "geometry": line.simplify(0.2 * field.grid.cell),
            }
        )
    return layer_frame("tailouts", rows, field.grid.crs)


def _runs_of(flags: BoolArray) -> Iterator[slice]:
    """Yield the stretches of True."""
    edges = np.flatnonzero(np.diff(np.r_[False, flags, False].astype(int)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        yield slice(int(start), int(end))


def lanes_layer(field: WaterField, lanes: list[Lane]) -> gpd.GeoDataFrame:
    """Return the lanes as a layer, broken where a fish cannot pass."""
    rows = []
    for lane in lanes:
        gaps = field.gap_left, field.gap_right
        edge = np.fmin(*(gap.of_cells(lane.rows, lane.cols) for gap in gaps))
        for part in _runs_of(~lane.blocked):
            if part.stop - part.start < 3:
                continue
            line = LineString(lane.points[part])
            cells = lane.rows[part], lane.cols[part]
            rows.append(
                _base(field)
                | {
                    "length_m": line.length,
                    "effort": lane.effort,
                    "depth_m": float(np.nanmedian(field.depth[cells])),
                    "speed_m_s": float(np.nanmedian(field.speed[cells])),
                    "edge_m": float(np.nanmedian(edge[part])),
                    "geometry": line.simplify(0.2 * field.grid.cell),
                }
            )
    return layer_frame("lanes", rows, field.grid.crs)


def bands_layer(
    field: WaterField, corridor: Corridor, settings: CorridorSettings
) -> gpd.GeoDataFrame:
    """Return the corridor as a layer: for each share of the fish the densest ways they take."""
    rows = []
    for share in sorted(settings.shares, reverse=True):
        mask = densest(corridor.passes, field.station, share, settings.band_m)
        for place, part in pieces(mask, 10):
            shape = outline(part, place, field.grid)
            if shape is not None:
                band = {"share": share, "area_m2": shape.area, "geometry": shape}
                rows.append(_base(field) | band)
    return layer_frame("bands", rows, field.grid.crs)
