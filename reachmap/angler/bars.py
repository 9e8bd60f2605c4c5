"""Islands and bars: dry ground with water all round, and whether one gets there on foot."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
from rasterio.features import shapes
from scipy import ndimage
from shapely.geometry import shape

from reachmap.angler.view import View
from reachmap.angler.wading import reachable_ground
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import CodeArray
from reachmap.base.patches import FOUR, patch_sizes
from reachmap.base.tables import layer_frame
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words


def bars_layer(
    view: View, grade: CodeArray, settings: WadingSettings, units: UnitSystem
) -> gpd.GeoDataFrame:
    """Return the `bars` layer at one flow; the way back at other flows is filled in later.

    Parameters
    ----------
    view
        The flow over the ground.
    grade
        Graded water, codes of `wading`.
    settings
        Least area of a bar: that of a zone.
    units
        For the note.
    """
    islands = view.dry & ~view.land
    reach = reachable_ground(grade, view.land, view.dry)
    least = max(settings.zone_low_m2 / view.cell**2, 1.0)
    labels, _ = ndimage.label(islands & (patch_sizes(islands) >= least), FOUR)
    found: list[tuple[float, dict[str, Any]]] = []
    outlines = shapes(
        labels.astype(np.int32), mask=labels > 0, connectivity=4, transform=view.grid.transform
    )
    for geometry, value in outlines:
        cells = labels == int(value)
        polygon = shape(geometry)
        station = view.station[cells]
        upper = float(np.nanmin(station)) if np.isfinite(station).any() else float("nan")
        on_foot = bool(reach[cells].any())
        row = {
            "flow": view.flow,
            "flow_label": view.label,
            "area_m2": float(polygon.area),
            "station_m": upper,
            "on_foot": "yes" if on_foot else "no",
            "open_until": "",
            "cut_off": "",
            "note": _note(view, cells, on_foot=on_foot, units=units),
            "geometry": polygon,
        }
        found.append((upper, row))
    found.sort(key=lambda pair: (np.isnan(pair[0]), pair[0]))
    rows = [row | {"code": f"I{number}"} for number, (_, row) in enumerate(found, start=1)]
    return layer_frame("bars", rows, view.grid.crs)


def _note(view: View, cells: np.ndarray, *, on_foot: bool, units: UnitSystem) -> str:
    """Return how high a bar stands and whether one gets there on foot."""
    around = ndimage.binary_dilation(cells, FOUR) & view.wet
    level = float(np.median(view.level[around])) if around.any() else float("nan")
    height = float(np.nanmax(view.bed[cells])) - level
    small = from_si(height, "ft") < 0.1
    top = "hardly above" if small else f"at most {length_words(height, units)} above"
    foot = "On foot through water you can wade." if on_foot else "No way to it on foot."
    return f"{foot} It stands {top} the water."
