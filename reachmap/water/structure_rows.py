"""Rows of the layer `structure`: its lie, its swing, and the evidence that supports it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.base.patches import cells_of
from reachmap.base.schema import layer_frame
from reachmap.base.words import COVER_CODES, Confidence, Cover, Side, Stretch
from reachmap.base.words_runs import StructureKind, Support
from reachmap.markup.model import SeasonLimits, StructureMark
from reachmap.water.codes import STRUCTURE_LETTER
from reachmap.water.field import WaterField
from reachmap.water.lies import Lies
from reachmap.water.rows import widths_along
from reachmap.water.settings import ScoreSettings
from reachmap.water.structure import Feature
from reachmap.water.structure_marks import Supported, held_at, with_marks
from reachmap.water.structure_settings import StructureSettings
from reachmap.water.zones import outline, wider

STONY = (StructureKind.BOULDER_LEE, StructureKind.ROCK_GARDEN)
"""Kinds that drawn rocks alone can support."""


def support_of(
    field: WaterField,
    lies: Lies,
    feature: Feature,
    cover: CodeArray,
    rules: StructureSettings,
) -> Support | None:
    """Return the evidence that supports a structure; None: the bed there is only a guess.

    Parameters
    ----------
    field, lies, feature
        The structure at its flow.
    cover
        Codes of `base.words.Cover` on the field's raster: a drawn rock stands as rock.
    rules
        How well the bed must be known.

    Notes
    -----
    Pools of a bed synthesised between drawn banks follow from a rule of bends: they are no evidence
    and such structures are left out.
    """
    forms = lies.forms
    rows, cols = forms.rows[feature.cells], forms.cols[feature.cells]
    sure = np.nan_to_num(field.confidence.of_cells(rows, cols))
    if (sure >= rules.dem_low).mean() >= rules.known_share:
        return Support.DEM
    if feature.kind in STONY:
        reach = round(rules.lee_m / field.grid.cell)
        wide = wider(feature.place, reach, field.wet.shape)
        stone = forms.stone[wide] >= rules.stone_low_m
        if (cover[wide][stone] == COVER_CODES[Cover.ROCK]).any():
            return Support.ROCKS
    if lies.bed_known[feature.cells].mean() >= rules.known_share:
        return Support.SOUNDINGS
    return None


def structure_confidence(
    field: WaterField,
    lies: Lies,
    feature: Feature,
    support: Support,
    settings: ScoreSettings,
) -> Confidence:
    """Return a structure's confidence: by its support, one step lower next to unknown water."""
    rows, cols = lies.forms.rows[feature.cells], lies.forms.cols[feature.cells]
    grade = float(np.nan_to_num(np.nanmedian(field.confidence.of_cells(rows, cols))))
    if support in (Support.ROCKS, Support.MARK):
        grade = max(grade, settings.sure_fair)
    step = 2 if grade >= settings.sure_good else 1 if grade >= settings.sure_fair else 0
    if field.unknown[feature.place].any():
        step -= 1
    return (Confidence.LOW, Confidence.LOW, Confidence.FAIR, Confidence.GOOD)[step + 1]


def _lie(field: WaterField, lies: Lies, feature: Feature) -> dict[str, Any]:
    """Return the place of a structure where a fish most likely holds."""
    best = int(feature.cells[np.argmax(np.nan_to_num(lies.odds[feature.cells]))])
    row, col = int(lies.forms.rows[best]), int(lies.forms.cols[best])
    here = np.array([row]), np.array([col])
    left, right = (float(gap.of_cells(*here)[0]) for gap in (field.gap_left, field.gap_right))
    x, y = field.grid.points(*here)[0]
    return {
        "side": (Side.LEFT if left <= right else Side.RIGHT).value,
        "lie_x_m": float(x),
        "lie_y_m": float(y),
        "lie_station_m": float(field.station.of_cells(*here)[0]),
        "lie_out_m": min(left, right),
        "lie_depth_m": float(field.depth[row, col]),
        "near_bed_speed_m_s": float(lies.near_bed[best]),
        "lie_odds": float(np.nan_to_num(lies.odds[best])),
    }


def _part(station: float, ends: tuple[float, float]) -> Stretch:
    """Return where along a structure a station lies; about its middle where it is not known."""
    share = (station - ends[0]) / max(ends[1] - ends[0], 1e-6)
    if share < 1 / 3:
        return Stretch.UPPER
    return Stretch.LOWER if share > 2 / 3 else Stretch.MIDDLE


def _swing(
    field: WaterField, lie: dict[str, Any], limits: SeasonLimits, reach_m: float
) -> dict[str, float]:
    """Return where the fly passes: the nearest water to the lie within the season's limits.

    How far it lies out from the lie's bank, its depth and speed; NaN where there is none in reach.
    """
    row, col, _ = field.grid.index(np.array([lie["lie_x_m"]]), np.array([lie["lie_y_m"]]))
    reach = int(reach_m / field.grid.cell)
    rows = slice(max(int(row[0]) - reach, 0), int(row[0]) + reach + 1)
    cols = slice(max(int(col[0]) - reach, 0), int(col[0]) + reach + 1)
    depth, speed = field.depth[rows, cols], field.speed[rows, cols]
    with np.errstate(invalid="ignore"):
        fits = (depth >= limits.depth_low_m) & (depth <= limits.depth_high_m)
        fits &= (speed >= limits.speed_low_m_s) & (speed <= limits.speed_high_m_s)
    y, x = cells_of(fits)
    away = np.hypot(y + rows.start - row[0], x + cols.start - col[0]) * field.grid.cell
    names = ("swing_out_m", "swing_depth_m", "swing_speed_m_s")
    if not away.size or away.min() > reach_m:
        return dict.fromkeys(names, float("nan"))
    near = int(np.argmin(away))
    gap = field.gap_left if lie["side"] == Side.LEFT else field.gap_right
    out = gap.window(rows, cols)[y[near], x[near]]
    found = float(out), float(depth[y[near], x[near]]), float(speed[y[near], x[near]])
    return dict(zip(names, found, strict=True))


def structure_row(
    field: WaterField,
    lies: Lies,
    feature: Feature,
    limits: SeasonLimits,
    rules: StructureSettings,
) -> dict[str, Any] | None:
    """Return a structure's row without code, support, confidence; None if it has no outline."""
    rows, cols = lies.forms.rows[feature.cells], lies.forms.cols[feature.cells]
    station: FloatArray = np.asarray(field.station[rows, cols])
    station = station[np.isfinite(station)]
    shape = outline(feature.mask, feature.place, field.grid)
    if shape is None or not station.size:
        return None
    lie, cell = _lie(field, lies, feature), field.grid.cell
    ends = float(station.min()), float(station.max())
    across = widths_along(station, cell, bin_m=2 * cell)
    return {
        "flow": field.flow,
        "flow_label": field.label,
        "kind": feature.kind.value,
        "station_m": ends[0],
        "station_end_m": ends[1],
        "length_m": ends[1] - ends[0] + cell,
        "lie_part": _part(lie.pop("lie_station_m"), ends).value,
        "width_m": float(np.median(across)),
        "depth_m": float(np.nanmedian(field.depth[rows, cols])),
        "relief_m": feature.relief_m,
        "odds": float(np.nanmean(np.nan_to_num(lies.odds[feature.cells]))),
        "holds": bool(lie["lie_odds"] >= rules.lie_odds_low),
        "geometry": shape,
        **lie,
        **_swing(field, lie, limits, rules.swing_near_m),
    }


def structure_layer(
    field: WaterField,
    lies: Lies,
    features: list[Feature],
    cover: CodeArray,
    limits: SeasonLimits,
    rules: tuple[StructureSettings, ScoreSettings],
    *,
    marks: Sequence[StructureMark] = (),
) -> gpd.GeoDataFrame:
    """Return the supported structures of a flow as a layer, numbered downstream.

    Parameters
    ----------
    field, lies, features
        From `field_of`, `lie_odds` and `find_structure`.
    cover
        Codes of cover on the field's raster.
    limits
        Of the water one swings a fly through.
    rules
        Of structure, and of how sure water is.
    marks
        What the angler marked: support for what is found there, else a structure of its own.
    """
    every: list[Supported] = [
        (one, support_of(field, lies, one, cover, rules[0]), None) for one in features
    ]
    found = []
    for feature, support, mark in with_marks(field, lies, every, marks, rules[0]):
        row = structure_row(field, lies, feature, limits, rules[0]) if support else None
        if support and row:
            sure = structure_confidence(field, lies, feature, support, rules[1])
            row["holds"] |= mark is not None and held_at(mark, field.flow, rules[0])
            found.append(row | {"support": support.value, "confidence": sure.value})
    found.sort(key=lambda row: (row["station_m"], row["station_end_m"], row["side"]))
    for number, row in enumerate(found, start=1):
        row["code"] = f"{STRUCTURE_LETTER}{number}"
    return layer_frame("structure", found, field.grid.crs)
