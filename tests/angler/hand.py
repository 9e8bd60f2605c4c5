"""A drawing, a kit and swing water made by hand, for tests of the angler's floor."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from shapely import LineString, Point, Polygon, box

from reachmap.angler import CardLayers, run_card
from reachmap.angler.view import View
from reachmap.base.grid import Grid
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import on_border
from reachmap.base.schema import layer_frame, table_frame
from reachmap.base.units import to_si
from reachmap.base.words import COVER_CODES, AccessKind, Cover, Hand, Part, Season, UnitSystem
from reachmap.markup.dem_note import DemNote
from reachmap.markup.kit import Angler, Head, Kit, Rod, Tip
from reachmap.markup.model import Access, Markup, Plan, River, SeasonLimits
from reachmap.text.run_card import no_water_line, run_card_lines
from reachmap.text.written import written_layer

FT = to_si(1.0, "ft")

KIT = Kit(
    Angler(height_m=1.78, wade_limit_m=0.9, hand=Hand.RIGHT, leader_m=4 * FT, cast_limit_m=85 * FT),
    rods=(Rod("13 ft rod", 13 * FT, 8), Rod("15 ft rod", 15 * FT, 10)),
    heads=(
        Head("24 ft head", 24 * FT, "skagit"),
        Head("34 ft head", 34 * FT, "scandi"),
        Head("65 ft belly", 65 * FT, "long belly"),
    ),
    tips=(
        Tip("floating", 10 * FT, 0.0),
        Tip("type 3", 10 * FT, to_si(3.0, "in/s")),
        Tip("T-8", 10 * FT, to_si(6.5, "in/s")),
        Tip("T-14", 10 * FT, to_si(8.5, "in/s")),
    ),
)


def hand_markup(
    ground, *, kit=KIT, units=UnitSystem.US, hazards=(), access=(), season=Season.WINTER
) -> Markup:
    """Return a drawing with a river line, a kit and what else is asked for."""
    line = LineString(np.column_stack([ground["line_x"].to_numpy(), ground["line_y"].to_numpy()]))
    plan = Plan(
        name="Made river",
        units=units,
        slope=0.002,
        traced_flow=20.0,
        flows=(20.0,),
        season=SeasonLimits(season, 0.5, 1.8, 0.3, 1.1),
        kit=kit,
        dem=DemNote(float("nan"), "m", ""),
    )
    return Markup(
        crs=ground.attrs["crs"],
        plan=plan,
        rivers=(River("Made river", Part.MAIN, line),),
        banks=(),
        hazards=tuple(hazards),
        access=tuple(access),
    )


def access_at(x: float, y: float) -> Access:
    """Return a path that meets the bank at a place."""
    return Access(Point(x, y), AccessKind.PATH, "")


def hand_water(outlines, *, flow: float, label: str, crs: str, stations, kind="soft_edge"):
    """Return a `water` layer of outlines; `stations` are upper and lower ends [m]."""
    rows = [
        {
            "flow": flow,
            "flow_label": label,
            "code": f"E{number}",
            "kind": kind,
            "side": "right",
            "station_m": ends[0],
            "station_end_m": ends[1],
            "length_m": ends[1] - ends[0],
            "width_m": 8.0,
            "depth_m": 0.9,
            "speed_m_s": 0.7,
            "score": 60.0,
            "factor_depth": 1.0,
            "factor_speed": 1.0,
            "factor_even": 1.0,
            "factor_size": 1.0,
            "confidence": "fair",
            "run": f"run {number}",
            "geometry": outline,
        }
        for number, (outline, ends) in enumerate(zip(outlines, stations, strict=True), start=1)
    ]
    return layer_frame("water", rows, crs)


def band(ground, low: float, high: float, inner: float, outer: float) -> Polygon:
    """Return the box of a straight river between two stations and two offsets [m]."""
    x0, y0 = float(ground["line_x"][0]), float(ground["line_y"][0])
    return box(x0 + low, y0 + min(inner, outer), x0 + high, y0 + max(inner, outer))


def flat_view(*, size=81, cell=1.0, level=100.0):
    """Return a view of level dry ground at the water's height, without anything on it."""
    heights, none = np.full((size, size), level), np.full((size, size), np.nan)
    corner = 500_000.0 - cell / 2, 5_117_000.0 + cell / 2
    grid = Grid.at_corner(*corner, cell, (size, size), "EPSG:32607")
    yes, no = np.ones((size, size), bool), np.zeros((size, size), bool)
    side = np.ones((size, size), np.int32)
    return View(
        grid=grid,
        flow=20.0,
        label="20m3s",
        wet=no,
        dry=yes,
        unknown=no,
        level=none,
        depth=none,
        east=none,
        north=none,
        bed=heights,
        surface=heights,
        confidence=np.full((size, size), 0.8),
        cover=np.full((size, size), COVER_CODES[Cover.GRAVEL], np.uint8),
        station=np.zeros((size, size)),
        offset=np.zeros((size, size)),
        length=1.0,
        land=yes,
        rim=on_border((size, size)),
        side=side,
        width=0.0,
        wet_on_terrain_day=no,
        from_terrain=True,
    )


def mirrored(view: View) -> View:
    """Return the view as seen in a mirror that swaps north and south."""
    rasters = {
        one.name: np.asarray(getattr(view, one.name))[::-1].copy()
        for one in fields(View)
        if isinstance(getattr(view, one.name), np.ndarray | PackedRaster)
    }
    rasters["north"] = -rasters["north"]
    rasters["offset"] = -rasters["offset"]
    rasters["side"] = -rasters["side"]
    return replace(view, **rasters)


def card_lines(run, label, layers, markup, settings) -> list[str]:
    """Return the card of a run in words."""
    card = run_card(run, label, CardLayers.of(layers), markup, settings)
    units = markup.plan.units
    return [no_water_line(run, 20.0, units)] if card is None else run_card_lines(card, units)


def noted(layers, name: str, units=UnitSystem.US):
    """Return a layer with its columns of sentences."""
    return written_layer(name, layers[name], table_frame("runs_by_flow", []), units)
