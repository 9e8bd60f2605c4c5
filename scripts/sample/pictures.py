"""Pictures of the made-up river for docs/sample-river.md; the only place that needs matplotlib."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import rasterio
from numpy.typing import NDArray

mpl.use("Agg")

from matplotlib import pyplot as plt
from matplotlib.colors import LightSource

from . import gauge, plan
from .water import TrueWater

FloatArray = NDArray[np.float64]

COVER_COLOURS = {
    "gravel": "#d8cda0", "sand": "#efdf9a", "grass": "#b5d98a", "brush": "#7fae5a",
    "trees": "#2f7040", "rock": "#8a8a8a", "cutbank": "#a8653a",
}  # fmt: skip
MARKS = {
    "soundings": ("black", "."),
    "rocks": ("#555555", "x"),
    "access": ("#e07b00", "^"),
    "hazards": ("#d00000", "o"),
}
SHOWN_CFS = (600, 1800, 5400)
PER_INCH = 80


def draw_pictures(folder: Path, sample: Path, water: TrueWater) -> list[Path]:
    """Write the pictures into `folder`; return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    makers = {
        "sample-true-bed.png": lambda: _true_bed(water),
        "sample-dem.png": lambda: _dem(sample),
        "sample-wet.png": lambda: _wet(water),
        "sample-drawing.png": lambda: _drawing(sample),
        "sample-profile.png": lambda: _profile(water),
        "sample-side-channel.png": lambda: _side_channel(water),
        "sample-gauge.png": lambda: _gauge(water),
    }
    paths = []
    for name, make in makers.items():
        figure = make()
        figure.savefig(folder / name, dpi=PER_INCH, metadata={"Software": None})
        plt.close(figure)
        paths.append(folder / name)
    return paths


def _extent(x: FloatArray, y: FloatArray) -> tuple[float, float, float, float]:
    """Return the outer edges of a raster as matplotlib wants them."""
    half = 0.5 * (x[1] - x[0])
    return (x[0] - half, x[-1] + half, y[-1] - half, y[0] + half)


def _map_axes(rows: int, columns: int, size: tuple[float, float]) -> tuple[Any, Any]:
    """Return a figure with axes of equal scales and no frame."""
    figure, axes = plt.subplots(rows, columns, figsize=size, layout="constrained", squeeze=False)
    for one in axes.ravel():
        one.set_aspect("equal")
        one.set_axis_off()
    return figure, axes.ravel()


def _shade(heights: FloatArray, cell: float) -> FloatArray:
    """Return a hillshade, white where nothing is known."""
    known = np.isfinite(heights)
    filled = np.where(known, heights, np.nanmean(heights))
    shade = LightSource(315, 40).hillshade(filled, vert_exag=3, dx=cell, dy=cell)
    return np.where(known, np.round(shade * 24) / 24, 1.0)


def _true_bed(water: TrueWater) -> Any:
    """Return the true bed above the mean fall, with stations."""
    ground = water.ground
    figure, (axes,) = _map_axes(1, 1, (11, 6))
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    above = ground["bed"].to_numpy() - plan.HEAD_HEIGHT + plan.SLOPE * ground["station"].to_numpy()
    levels = np.arange(-2.0, 5.01, 0.25)
    drawn = axes.contourf(x, y, above, levels=levels, cmap="terrain", extend="both")
    figure.colorbar(drawn, ax=axes, shrink=0.7, label="m above the line through the riffle crests")
    for station in range(0, 2601, 200):
        px, py = water.line.place(np.array([float(station)]), np.array([0.0]))
        axes.text(px[0], py[0], str(station), fontsize=8, ha="center")
    axes.set_title("The true bed (for tests only); numbers are metres downstream")
    return figure


def _dem(sample: Path) -> Any:
    """Return the DEM's hillshade."""
    with rasterio.open(sample / "dem.tif") as source:
        heights = source.read(1, masked=True).filled(np.nan).astype(np.float64)[::2, ::2]
    figure, (axes,) = _map_axes(1, 1, (11, 6))
    axes.imshow(_shade(heights, 2.0), cmap="gray", vmin=0.2, vmax=1)
    axes.set_title(f"dem.tif, flown at {plan.DEM_FLOW_CFS} cfs: the water is flat, its bed unseen")
    return figure


def _wet(water: TrueWater) -> Any:
    """Return depths at three flows."""
    figure, axes = _map_axes(3, 1, (8.5, 13))
    x, y = water.flows["x"].to_numpy(), water.flows["y"].to_numpy()
    shade = _shade(water.ground["bed"].to_numpy(), 2.0)
    for one, flow in zip(axes, SHOWN_CFS, strict=True):
        depth = water.flows["depth"].to_numpy()[water.number(flow)]
        one.imshow(shade, extent=_extent(x, y), cmap="gray", vmin=-0.2, vmax=1)
        banded = np.floor(depth * 4) / 4
        drawn = one.imshow(banded, extent=_extent(x, y), cmap="viridis_r", vmin=0, vmax=3)
        one.set_title(f"{flow:,} cfs")
    figure.colorbar(drawn, ax=list(axes), shrink=0.4, label="depth, m")
    return figure


def _drawing(sample: Path) -> Any:
    """Return the drawing."""
    path = sample / "markup.gpkg"
    layers = {name: gpd.read_file(path, layer=name) for name in gpd.list_layers(path)["name"]}
    figure, (axes,) = _map_axes(1, 1, (11, 6.5))
    for kind, part in layers["banks"].groupby("cover"):
        part.plot(ax=axes, color=COVER_COLOURS[str(kind)], edgecolor="#00000055", linewidth=0.3)
        axes.plot([], [], "s", color=COVER_COLOURS[str(kind)], label=str(kind))
    layers["river"].plot(ax=axes, color="#1f4e9c", linewidth=1.0)
    axes.plot([], [], color="#1f4e9c", label="river lines")
    for flow, colour in zip(plan.EDGE_FLOWS_CFS, ("#1aa0b8", "#b03ab0"), strict=True):
        edges = layers["edges"]
        edges[edges["flow"] == flow].plot(ax=axes, color=colour, linewidth=1.0)
        axes.plot([], [], color=colour, label=f"edge at {flow:,} cfs")
    for name, (colour, mark) in MARKS.items():
        at = layers[name].geometry.representative_point()
        axes.plot(at.x, at.y, mark, color=colour, markersize=5, label=name, linestyle="")
    for run in layers["runs"].itertuples():
        axes.annotate(run.name, (run.geometry.centroid.x, run.geometry.centroid.y), fontsize=8)
    axes.legend(loc="lower right", fontsize=8, ncols=2)
    axes.set_title("markup.gpkg: what the angler drew")
    return figure


def _profile(water: TrueWater) -> Any:
    """Return the long profile of bed and levels above the mean fall."""
    figure, axes = plt.subplots(figsize=(11, 4.2), layout="constrained")
    at = np.arange(10.0, 2620.0, 5.0)
    across = np.arange(-26.0, 26.5, 1.0)
    below = plan.HEAD_HEIGHT - plan.SLOPE * at
    places = np.meshgrid(at, across, indexing="ij")
    lowest = water.bed_at(*places).min(axis=1)
    axes.fill_between(at, lowest - below, -2.2, color="#b9a98a")
    for flow in plan.MAP_FLOWS_CFS:
        axes.plot(at, water.level_at(flow, at) - below, linewidth=1, label=f"{flow:,} cfs")
    axes.plot(at, np.full(at.size, plan.BANK_FULL), "--", color="#555555", label="bank tops")
    axes.set(xlabel="m downstream", ylabel="m above the mean fall", ylim=(-2.2, 2.9))
    axes.legend(fontsize=8, ncols=5, loc="upper center")
    return figure


def _side_channel(water: TrueWater) -> Any:
    """Return speeds round the island at four flows."""
    figure, axes = _map_axes(2, 2, (9.5, 9))
    middle = 0.5 * (plan.SIDE_BEGIN + plan.SIDE_END)
    px, py = water.line.place(np.array([middle]), np.array([-30.0]))
    x, y = water.flows["x"].to_numpy(), water.flows["y"].to_numpy()
    for one, flow in zip(axes, (900, 1300, 1800, 5400), strict=True):
        number = water.number(flow)
        east, north = (
            water.flows[name].to_numpy()[number] for name in ("east_speed", "north_speed")
        )
        speed = np.floor(np.hypot(east, north) * 10) / 10
        drawn = one.imshow(speed, extent=_extent(x, y), cmap="turbo", vmin=0, vmax=2.2)
        one.set(xlim=(px[0] - 240, px[0] + 240), ylim=(py[0] - 240, py[0] + 240))
        one.set_title(f"{flow:,} cfs")
    figure.colorbar(drawn, ax=list(axes), shrink=0.5, label="speed, m/s")
    return figure


def _gauge(water: TrueWater) -> Any:
    """Return rating and record."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(11, 3.6), layout="constrained")
    stage, flow = gauge.rating(water)
    left.plot(flow, stage, ".-")
    left.set(xlabel="flow, cfs", ylabel="stage, ft", title="rating")
    right.plot(np.arange(gauge.HOURS) / 24, gauge.record())
    right.set(xlabel="day", ylabel="flow, cfs", title="record")
    return figure
