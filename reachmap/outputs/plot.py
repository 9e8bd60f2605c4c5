"""Plot of one flow of a map with matplotlib: depth, edges, water, unknown areas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.language import tr
from reachmap.base.units import LENGTH, flow_words, from_si
from reachmap.base.words import WadeGrade, Wet
from reachmap.outputs.palette import BY_KIND, FISHING, PAPER, ramps
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.unknown import off_map
from reachmap.text.cautions import CAUTIONS
from reachmap.text.map_notes import map_notes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HATCH = "xxx"
"""matplotlib's hatch for unknown areas."""


def plot_map(product: Product, *, ax: Axes | None = None) -> Axes:
    """Draw the one flow of a product and return the axes.

    Parameters
    ----------
    product
        A product with one flow.
    ax
        Where to draw; a new figure if not given.

    Raises
    ------
    BuildError
        If matplotlib is not installed.

    Notes
    -----
    The depth mesh is masked where the depth is unknown or the cell is not wet: neither is drawn as
    depth 0. Unknown cells near the water and ungraded water are hatched.
    """
    try:
        from matplotlib import pyplot as plt
    except ImportError:
        fix = "Install it: pip install 'reachmap[plot]'"
        raise BuildError([Fault("plot", "matplotlib is not installed", fix)]) from None
    axes = plt.subplots(figsize=(10, 7.5))[1] if ax is None else ax
    _depths(product, axes)
    _unknown(product, axes)
    _layers(product, axes)
    flow = flow_words(float(product.flows["flow"][0]), product.markup.plan.units)
    axes.set_title(f"{product.markup.plan.name}, {flow}".replace("$", r"\$"))
    axes.set_aspect("equal")
    axes.set_xlabel(f"east [m], {product.markup.crs}")
    axes.set_ylabel("north [m]")
    units = product.markup.plan.units
    notes = map_notes(units, preview=product.preview, between=product.between)
    lines = [*notes, tr(CAUTIONS[1])]
    axes.figure.text(0.5, 0.01, "\n".join(lines), ha="center", va="bottom", fontsize=7, wrap=True)
    axes.legend(loc="upper left", bbox_to_anchor=(0, -0.15), ncols=3, fontsize=8)
    return axes


def known_depth(product: Product) -> np.ma.MaskedArray[Any, Any]:
    """Return the depth [m], masked except in wet cells of known depth, shape (y, x)."""
    one = product.flows.isel(flow=0)
    depth: FloatArray = one["depth"].to_numpy()
    wet = one["wet"].to_numpy() == Wet.YES
    return np.ma.masked_where(~wet | ~np.isfinite(depth), depth)


def unknown_cells(product: Product) -> BoolArray:
    """Return a mask of cells near the water whose wetness or depth is unknown, shape (y, x)."""
    one = product.flows.isel(flow=0)
    wet, depth = one["wet"].to_numpy(), one["depth"].to_numpy()
    blind = (wet == Wet.UNKNOWN) | ((wet == Wet.YES) & ~np.isfinite(depth))
    return np.asarray(blind & ~off_map(product.flows))


def _depths(product: Product, axes: Axes) -> None:
    """Draw the depth in the map's colour classes, with a colour bar."""
    from matplotlib.colors import BoundaryNorm, ListedColormap

    units = product.markup.plan.units
    ramp = ramps(units)[0]
    colours = ListedColormap(list(ramp.day))
    bounds = [*ramp.bounds, 2 * ramp.bounds[-1]]
    x, y = (product.flows[name].to_numpy() for name in ("x", "y"))
    mesh = axes.pcolormesh(
        x,
        y,
        known_depth(product),
        cmap=colours,
        norm=BoundaryNorm(bounds, colours.N),
        shading="nearest",
    )
    unit = LENGTH[units]
    key = axes.figure.colorbar(mesh, ax=axes, shrink=0.6, label=f"depth [{unit}]", extend="max")
    key.set_ticks(list(ramp.bounds), labels=[f"{from_si(b, unit):.2g}" for b in ramp.bounds])
    axes.set_facecolor(PAPER)


def _unknown(product: Product, axes: Axes) -> None:
    """Hatch unknown areas of the rasters and of the wading grades."""
    style = BY_KIND["unknown_water"]
    cells = unknown_cells(product)
    x, y = (product.flows[name].to_numpy() for name in ("x", "y"))
    if cells.any():
        axes.contourf(
            x, y, cells.astype(float), [0.5, 1.5], colors=[style.day.fill], hatches=[HATCH]
        )
    wading = product.layers["wading"]
    grades = (WadeGrade.UNKNOWN.value, WadeGrade.NO.value)
    for number, grade in enumerate(grades):
        tone = BY_KIND[grade].day
        shapes = wading[wading["grade"] == grade].geometry
        _areas(axes, list(shapes), BY_KIND[grade].words, HATCH if number == 0 else "...", tone.ink)


def _layers(product: Product, axes: Axes) -> None:
    """Draw edges of the water and the water worth fishing."""
    water = product.layers["water"]
    for kind in FISHING:
        style = BY_KIND[kind]
        shapes = list(water[water["kind"] == kind].geometry)
        _areas(axes, shapes, style.words, "", style.day.ink, fill=style.day.fill)
    for name in ("edge_left", "edge_right"):
        for line in shapely.get_parts(list(product.layers[name].geometry)):
            xy = shapely.get_coordinates(line)
            axes.plot(xy[:, 0], xy[:, 1], color=BY_KIND["edge"].day.ink, linewidth=0.9)


def _areas(
    axes: Axes, shapes: list[Any], words: str, hatch: str, ink: str, *, fill: str = "none"
) -> None:
    """Draw polygons with their holes as one entry of the legend."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    polygons = [part for part in shapely.get_parts(shapes) if part.geom_type == "Polygon"]
    for number, polygon in enumerate(polygons):
        rings = [shapely.get_coordinates(ring) for ring in shapely.get_rings(polygon)]
        outline = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
        axes.add_patch(
            PathPatch(
                outline,
                facecolor=fill,
                alpha=0.75 if fill != "none" else None,
                edgecolor=ink,
                hatch=hatch or None,
                linewidth=0.8,
                label=words if number == 0 else None,
            )
        )
