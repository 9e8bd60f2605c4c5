"""Islands and bars: dry ground with water all round, and whether it is reachable on foot."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
from scipy import ndimage

from reachmap.angler.view import View
from reachmap.angler.wading import reachable_ground
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, CodeArray
from reachmap.base.grid import Window
from reachmap.base.patches import FOUR, patch_sizes
from reachmap.base.schema import layer_frame


def bars_layer(view: View, grade: CodeArray, settings: WadingSettings) -> gpd.GeoDataFrame:
    """Return the `bars` layer at one flow; the way back at other flows is filled in later.

    Parameters
    ----------
    view
        The flow over the ground.
    grade
        Graded water, codes of `wading`.
    settings
        Least area of a bar: that of a zone.
    """
    islands = view.dry & ~view.land
    reach = reachable_ground(grade, view.land, view.dry)
    least = max(settings.zone_low_m2 / view.cell**2, 1.0)
    labels, _ = ndimage.label(islands & (patch_sizes(islands) >= least), FOUR)
    windows: list[Any] = ndimage.find_objects(labels)
    found: list[tuple[float, dict[str, Any]]] = []
    for polygon, number in view.grid.polygons(labels.astype(np.int32)):
        window = wider(windows[number - 1])
        cells = labels[window] == number
        station = view.station[window][cells]
        upper = float(np.nanmin(station)) if np.isfinite(station).any() else float("nan")
        row = {
            "flow": view.flow,
            "flow_label": view.label,
            "area_m2": float(polygon.area),
            "station_m": upper,
            "on_foot": bool(reach[window][cells].any()),
            "height_m": _height(view, cells, window),
            "geometry": polygon,
        }
        found.append((upper, row))
    found.sort(key=lambda pair: (np.isnan(pair[0]), pair[0]))
    rows = [row | {"code": f"I{number}"} for number, (_, row) in enumerate(found, start=1)]
    return layer_frame("bars", rows, view.grid.crs)


def _height(view: View, cells: BoolArray, window: Window) -> float:
    """Return how high a bar stands above the water around it [m]; NaN where no water is known.

    `cells` are the bar's in a window one cell wider than it.
    """
    around = ndimage.binary_dilation(cells, FOUR) & view.wet[window]
    level = float(np.median(view.level[window][around])) if around.any() else float("nan")
    return float(np.nanmax(view.bed[window][cells])) - level


def wider(window: tuple[slice, slice]) -> tuple[slice, slice]:
    """Return a window with one more cell all round, for the ground beside it."""
    rows, cols = window
    return (
        slice(max(rows.start - 1, 0), rows.stop + 1),
        slice(max(cols.start - 1, 0), cols.stop + 1),
    )
