"""The ground stage: from a drawing and a DEM to bed, cover, roughness and surface model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import DISAGREES, BuildError, Fault
from reachmap.base.fields import check_fields
from reachmap.base.packed import packed_field
from reachmap.ground.assumptions import assumptions
from reachmap.ground.bed import Bed, make_bed
from reachmap.ground.consistency import findings_of
from reachmap.ground.consistency_scene import Scene
from reachmap.ground.cover import cover_of_cells
from reachmap.ground.decks import without_decks
from reachmap.ground.dem import Dem
from reachmap.ground.dem_checks import (
    dem_faults,
    height_faults,
    height_notes,
    high_water_faults,
)
from reachmap.ground.evidence import Sounded, reach_levels, use_soundings
from reachmap.ground.flights import one_ground
from reachmap.ground.form_error import MEASURED, form_error_factor
from reachmap.ground.layout import Layout, lay_out
from reachmap.ground.line_facts import line_facts
from reachmap.ground.low_water import LowWater, find_low_water, traced_flow
from reachmap.ground.notes import ATTRIBUTE, packed_notes
from reachmap.ground.settings import GroundSettings
from reachmap.ground.sources import confidence
from reachmap.ground.spots import lay_spots, without_spots
from reachmap.ground.surface_model import raise_rocks, stand_trees, with_crowns
from reachmap.ground.track_bins import binned
from reachmap.ground.used import Fact, by_track, packed
from reachmap.markup.evidence import ACCEPTED, Finding, settle, warnings_first
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup

LINE_POINTS = 1500
"""Most points of the low water's level that are kept beside the fields."""

VERSION = 9
"""Raised when the stage's numbers change."""


def build_ground(markup: Markup, dem: Dem | None, settings: GroundSettings) -> xr.Dataset:
    """Return the ground raster of a reach.

    Parameters
    ----------
    markup
        The drawing, checked.
    dem
        The DEM on the grid of `corridor.grid_of(markup, settings.cell, settings.margin_m)`; None
        where there is none.
    settings
        Of the stage.

    Returns
    -------
    xr.Dataset
        The fields of stage "ground" on (y, x), y descending; the centreline on (vertex). attrs:
        `crs`, `cell`, `slope` of the water [m/m], `low_flow` [m3/s], `low_foot_level` its level at
        the foot [m] where a DEM shows it on a day of known flow, else NaN, `low_how` how the low
        water's level came ("surface" measured, "edges", "drawing"), `bed_seen` 1 where a DEM
        is said to know the bed under water and shows none, else 0, `low_line` its level
        along the main line (see `low_line`), `vertical` ("dem"; "noted" where levels noted at
        the traced flow gave heights; else "local"), `bed_doubt` and
        `bed_doubt_sounded` (see `form_error`; the second is for a bed that soundings tell),
        `stone_size` and `stone_depth` of the bed's stones [m] (see `base.resistance`; 0: none),
        `notes` (a line for each contradiction of the evidence), `ground_notes` (what was assumed,
        see `notes.ground_notes_of`), `evidence` (what became of each piece, see `used.facts_of`).

    Raises
    ------
    BuildError
        If no honest ground can be made; every fault is listed.
    ValueError
        If the DEM is not on the grid.
    """
    layout = lay_out(markup, settings)
    dem, flights = one_ground(layout, markup, dem, settings, EvidenceSettings())
    dem, walls = without_decks(layout, markup, dem, EvidenceSettings())
    seen = _seen(layout, dem)
    faults, notes = ([], []) if seen is None else dem_faults(layout, seen)
    stop_on([*settle(flights, markup.plan.accepted).faults, *faults])
    markup, low, spots = _taken(layout, markup, dem, settings)
    stop_on(height_faults(layout, low, markup))
    bed = make_bed(layout, markup, low, seen, settings)
    stop_on(high_water_faults(layout, low, bed, traced_flow(markup)[0]))
    known = reach_levels(layout, markup, low, bed, settings)
    dem_flow = dem.flow if dem is not None else float("nan")
    scene = Scene(layout, markup, seen, low, bed, known[0], dem_flow, EvidenceSettings())
    sentences = _agreed(scene, [*flights, *walls])
    absolute = low.vertical != "local"
    sounded = use_soundings(layout, markup, bed, known, settings, absolute=absolute)
    facts = [*sounded.facts, *spots, *line_facts(layout, markup, low, bed)]
    dataset = _fields(layout, markup, (bed, sounded, seen), settings)
    main = layout.main
    drop = low.levels[0][0] - low.levels[0][-1]
    slope = drop / main.line.length if np.isnan(low.slope) else low.slope
    measured = low.how == "surface" and dem is not None and np.isfinite(dem.flow)
    dataset.attrs = {
        "crs": markup.crs,
        "cell": settings.cell,
        "slope": float(max(slope, 1e-6)),
        "low_flow": float(bed.low_flow),
        "low_foot_level": float(bed.levels[0][-1]) if measured else float("nan"),
        "low_how": low.how,
        "bed_seen": int(low.bed_seen),
        **_low_line_attrs(main.line.station, bed.levels[0]),
        "vertical": low.vertical,
        **{
            name: form_error_factor(sounded.misfit, sounded.number, settings.spread, how=how)
            for name, how in (("bed_doubt", low.how), ("bed_doubt_sounded", MEASURED[0]))
        },
        "evidence": packed(by_track(facts)),
        "stone_size": bed.stones.size_m,
        "stone_depth": bed.stones.depth_m,
        "notes": "\n".join(
            warnings_first(
                [
                    *sentences,
                    *(heights_word(markup) + one for one in height_notes(layout, low, markup)),
                ]
            )
        ),
        ATTRIBUTE: packed_notes(
            [
                *(dem.notes if dem else ()),
                *notes,
                *low.notes,
                *sounded.notes,
                *assumptions(layout, markup, bed, has_dem=dem is not None),
            ]
        ),
    }
    return check_fields(dataset, "ground")


def _taken(
    layout: Layout, markup: Markup, dem: Dem | None, settings: GroundSettings
) -> tuple[Markup, LowWater, tuple[Fact, ...]]:
    """Return the drawing with tracks and logged edges as the evidence they are, and the low water.

    Tracks become soundings. A terrain model's low water is found first: logged edges are then held
    against it; without one they are part of the drawing that it is made from.
    """
    tracked = [one for track in markup.tracks for one in binned(layout, track, settings.tracks)]
    markup = replace(markup, soundings=(*markup.soundings, *tracked))
    seen = _seen(layout, dem)
    if seen is None:
        low = (layout.water, traced_flow(markup)[0])
        laid = lay_spots(layout, markup, low, None, settings)
        return laid.markup, find_low_water(layout, laid.markup, None, settings), laid.facts
    found = find_low_water(layout, without_spots(markup), dem, settings)
    laid = lay_spots(layout, markup, (found.wet, found.flow), seen, settings)
    return laid.markup, found, laid.facts


def _agreed(scene: Scene, walls: Sequence[Finding]) -> tuple[str, ...]:
    """Return what is reported of evidence that disagrees, warnings first; raise where it stops."""
    settled = settle([*walls, *findings_of(scene)], scene.markup.plan.accepted)
    stop_on(settled.faults)
    return settled.sentences


def heights_word(markup: Markup) -> str:
    """Return how a note on the DEM's heights against other evidence begins."""
    return f"{ACCEPTED} (dem): " if "dem" in markup.plan.accepted else DISAGREES


def _low_line_attrs(station: FloatArray, level: FloatArray) -> dict[str, FloatArray]:
    """Return a level along the line as two attributes [m], thinned to `LINE_POINTS`."""
    at = np.linspace(0.0, station[-1], min(len(station), LINE_POINTS))
    levels = np.interp(at, station, level)
    return {"low_line_station": np.round(at, 2), "low_line_level": np.round(levels, 4)}


def low_line(ground: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return stations and levels of the lowest water seen, along the main line [m]."""
    station, level = (ground.attrs[f"low_line_{name}"] for name in ("station", "level"))
    return np.asarray(station, dtype=np.float64), np.asarray(level, dtype=np.float64)


def stop_on(faults: Sequence[Fault]) -> None:
    """Raise BuildError if there are faults."""
    if faults:
        raise BuildError(faults)


def _seen(layout: Layout, dem: Dem | None) -> FloatArray | None:
    """Return the DEM at the corridor's cells [m]; None without one."""
    if dem is None:
        return None
    if dem.height.shape != layout.corridor.grid.shape:
        msg = f"the DEM is {dem.height.shape}, the grid {layout.corridor.grid.shape}"
        raise ValueError(msg)
    seen: FloatArray = dem.height[layout.corridor.row, layout.corridor.col].astype(np.float64)
    return seen


def _fields(
    layout: Layout,
    markup: Markup,
    beds: tuple[Bed, Sounded, FloatArray | None],
    settings: GroundSettings,
) -> xr.Dataset:
    """Return the stage's fields on the raster."""
    corridor, banks = layout.corridor, markup.banks
    bed, sounded, seen = beds
    height = sounded.height
    unseen = np.full(height.shape, np.nan) if seen is None else np.where(bed.under, np.nan, seen)
    height = raise_rocks(corridor, height, markup.rocks, unseen)
    code, rough, tall = cover_of_cells(
        layout.bank, layout.water | bed.under, banks, settings.channel_roughness
    )
    tall = with_crowns(corridor, markup.canopy, banks, layout.bank, tall)
    surface = height + tall
    surface, code, rough = stand_trees(
        corridor, (markup.trees, markup.rocks), height, (surface, code, rough)
    )
    cells = {
        "bed": (height, np.nan),
        "roughness": (rough, np.nan),
        "surface": (surface, np.nan),
        "station": (layout.main_station, np.nan),
        "offset": (layout.main_offset, np.nan),
        "confidence": (confidence(bed.source, sounded.nearness), 0.0),
    }
    data = {
        name: packed_field([corridor.packed(values, fill)]).isel(flow=0)
        for name, (values, fill) in (cells | {"cover": (code, 0)}).items()
    }
    main = layout.main
    vertices = {
        "line_x": main.line.x,
        "line_y": main.line.y,
        "line_station": main.line.station,
        "line_width": main.width,
    }
    lines = {name: (("vertex",), values) for name, values in vertices.items()}
    return xr.Dataset({**data, **lines}, coords={"x": corridor.grid.x, "y": corridor.grid.y})
