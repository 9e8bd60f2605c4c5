"""Draw the pictures of docs/reading-the-water.md from the sample: python scripts/picture_water.py.

Needs matplotlib (`pip install .[docs]`). Writes docs/pictures/water-*.png.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

mpl.use("Agg")
import matplotlib.pyplot as plt

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import reachmap  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.near_bed import near_bed_share  # noqa: E402
from reachmap.text.run_table import shape_words  # noqa: E402
from reachmap.water import WaterSettings, follow_runs, runs_by_flow  # noqa: E402
from reachmap.water.bends import bends_of  # noqa: E402
from reachmap.water.channels import channel_graph  # noqa: E402
from reachmap.water.clarity import clarity_at, limits_in  # noqa: E402
from reachmap.water.field import WaterField, field_of  # noqa: E402
from reachmap.water.seams import shear  # noqa: E402
from reachmap.water.soft_odds import membership, soft_odds  # noqa: E402
from reachmap.water.tailouts import find_pools, find_tailouts, residual_depth  # noqa: E402
from reachmap.water.thalwegs import find_thalwegs  # noqa: E402
from scripts.measure_water import SAMPLE, Case, drawn_case  # noqa: E402

PICTURES = ROOT / "docs" / "pictures"
FLOWS_CFS = (600, 900, 1300, 1800, 2400, 3200, 4200, 5400)
KINDS = {
    "inside_bend": ("#1b7837", "inside bend"),
    "seam": ("#b8860b", "seam"),
    "tailout": ("#762a83", "tailout"),
    "soft_edge": ("#d95f02", "soft edge"),
    "even_run": ("#7570b3", "even run"),
}
RULES = WaterSettings(limits=reachmap.open_reach(SAMPLE).drawing.plan.season)


def field_at(case: Case, k: int) -> WaterField:
    """Return one flow as the rules see it."""
    rules = RULES.channels
    return field_of(
        case.ground,
        case.flows.isel(flow=[k]),
        island_low_m2=rules.island_low_m2,
        pool_low_m2=rules.pool_low_m2,
    )


def frame_on(axes: Axes, case: Case, station: float, reach: float = 190.0) -> None:
    """Show the map about a station."""
    line = Centreline.of(case.ground)
    x, y = (float(a[0]) for a in line.from_station_offset(np.array([station]), np.zeros(1)))
    axes.set_xlim(x - reach, x + reach)
    axes.set_ylim(y - reach, y + reach)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_xlabel("")
    axes.set_ylabel("")
    axes.plot([x - 0.9 * reach, x - 0.9 * reach + 91.44], [y - 0.93 * reach] * 2, "k", lw=3)
    axes.text(x - 0.9 * reach, y - 0.9 * reach, "100 yards", fontsize=8)


def backdrop(axes: Axes, field: WaterField, values: np.ndarray, **style: object) -> object:
    """Draw a raster beneath the rest."""
    return axes.pcolormesh(
        field.grid.x, field.grid.y, values, shading="nearest", rasterized=True, **style
    )


def draw(axes: Axes, layer: gpd.GeoDataFrame, **style: object) -> None:
    """Draw a layer, if there is anything in it."""
    if len(layer):
        layer.plot(ax=axes, aspect=None, **style)


def save(name: str, figure: plt.Figure) -> None:
    """Write a picture."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    figure.savefig(PICTURES / f"water-{name}.png", dpi=80, bbox_inches="tight")
    plt.close(figure)


def picture_suits(case: Case, k: int, station: float) -> None:
    """Draw how water suits: depth, speed, speed near the bed, and the odds at one flow."""
    figure, all_axes = plt.subplots(2, 2, figsize=(11, 9), layout="constrained")
    limits, suits = RULES.limits, RULES.suits
    panels = (
        ("depth, m", 2.6, (limits.depth_low_m, limits.depth_high_m), (suits.thin_m, suits.deep_m)),
        (
            "speed, m/s",
            1.6,
            (limits.speed_low_m_s, limits.speed_high_m_s),
            (suits.slow_m_s, suits.quick_m_s),
        ),
    )
    spreads = ((0.0, "as soft as they are", "k"), (0.15, "known to 0.15", "#2171b5"))
    spreads += ((0.3, "known to 0.3", "#9ecae1"),)
    for axes, (words, most, bounds, widths) in zip(all_axes[0], panels, strict=True):
        values = np.linspace(0.0, most, 400)
        for bound in bounds:
            axes.axvline(bound, color="#999999", lw=0.8, ls=":")
        for spread, told, colour in spreads:
            axes.plot(values, membership(values, bounds, widths, spread), color=colour, label=told)
        axes.axhline(suits.line, color="#b2182b", lw=0.8)
        axes.set(xlabel=words, ylabel="odds that it suits", ylim=(0, 1.02))
        axes.legend(fontsize=8)
    axes = all_axes[1, 0]
    depth = np.linspace(0.1, 3.0, 300)
    for roughness, colour in ((0.03, "#9ecae1"), (0.04, "#2171b5"), (0.06, "#08306b")):
        for height, style in ((suits.bed_height_m, "--"), (RULES.lanes.swim_height_m, "-")):
            share = near_bed_share(depth, np.full(depth.shape, roughness), height)
            told = f"n {roughness:g}, {height:g} m over the bed"
            axes.plot(depth, share, style, color=colour, label=told)
    axes.set(xlabel="depth, m", ylabel="speed near the bed over the mean", ylim=(0, 1.02))
    axes.legend(fontsize=8)
    axes, field = all_axes[1, 1], field_at(case, k)
    limits = limits_in(RULES, clarity_at(field.flow, RULES))
    image = backdrop(axes, field, soft_odds(field, limits, suits), cmap="YlGn", vmin=0, vmax=1)
    draw(axes, case.readings[k].layers["water"], facecolor="none", edgecolor="k", lw=1)
    axes.set_title(f"{field.label}: odds, and the pieces on their line")
    frame_on(axes, case, station)
    figure.colorbar(image, ax=axes, shrink=0.8)
    save("suits", figure)


def picture_bends(case: Case) -> None:
    """Draw the line, where each bend begins and ends, and its inner side."""
    field = field_at(case, 0)
    figure, axes = plt.subplots(figsize=(10, 6))
    backdrop(axes, field, np.where(field.wet, 1.0, np.nan), cmap="Blues", vmin=0, vmax=3)
    line = Centreline.of(case.ground)
    axes.plot(line.x, line.y, "k", lw=0.8)
    told = []
    for bend in bends_of(case.ground, RULES.bends):
        side = 1 if bend.inside == "left" else -1
        along = np.linspace(bend.station_m, bend.station_end_m, 101)
        inner = line.from_station_offset(along, np.full(along.shape, 22.0 * side))
        axes.plot(*inner, color=KINDS["inside_bend"][0], lw=4)
        spot = line.from_station_offset(along[50:51], np.array([70.0 * side]))
        style = {"fontsize": 14, "ha": "center", "va": "center", "weight": "bold"}
        axes.text(float(spot[0][0]), float(spot[1][0]), str(bend.number), **style)
        told.append(
            f"{bend.number}: inside {bend.inside}, turns {bend.turn_deg:.0f} degrees, "
            f"radius {bend.radius_m / bend.width_m:.1f} widths"
        )
    axes.text(0.62, 0.12, "\n".join(told), transform=axes.transAxes, fontsize=9)
    axes.set_aspect("equal")
    axes.set_axis_off()
    save("bends", figure)


def picture_channels(case: Case, flows: Sequence[int]) -> None:
    """Draw the channel graph about the side channel at some flows."""
    figure, all_axes = plt.subplots(
        1, len(flows), figsize=(5 * len(flows), 5), layout="constrained"
    )
    colours = {"main": "k", "side": "#d95f02", "dead arm": "#999999"}
    for axes, k in zip(all_axes, flows, strict=True):
        field = field_at(case, k)
        graph = channel_graph(field, RULES.channels)
        backdrop(axes, field, np.where(field.wet, 1.0, np.nan), cmap="Blues", vmin=0, vmax=3)
        for _, _, channel in graph.edges(data=True):
            axes.plot(*channel["line"].xy, color=colours[channel["kind"]], lw=2.5)
            spot = channel["line"].interpolate(0.5, normalized=True)
            told = f"{channel['kind']} {100 * channel['share']:.1f} %"
            axes.text(spot.x, spot.y, told, fontsize=8, clip_on=True)
        for _, spot in graph.nodes(data=True):
            axes.plot(spot["x"], spot["y"], "o", color="#b2182b", ms=7)
            axes.text(spot["x"] + 6, spot["y"] + 6, spot["kind"], fontsize=8, clip_on=True)
        axes.set_title(field.label)
        frame_on(axes, case, 1540)
    save("channels", figure)


def picture_seams(case: Case, flows: Sequence[int], station: float) -> None:
    """Draw the change of speed across the flow and the seams on its ridges."""
    figure, all_axes = plt.subplots(
        1, len(flows), figsize=(5 * len(flows), 5), layout="constrained"
    )
    for axes, k in zip(all_axes, flows, strict=True):
        field = field_at(case, k)
        image = backdrop(
            axes, field, shear(field, RULES.seams.average_cells), cmap="RdBu", vmin=-0.25, vmax=0.25
        )
        draw(axes, case.readings[k].layers["seams"], color="k", lw=3)
        axes.set_title(field.label)
        frame_on(axes, case, station)
    figure.colorbar(image, ax=all_axes, shrink=0.7, label="change of speed to river left, 1/s")
    save("seams", figure)


def picture_tailouts(case: Case, k: int) -> None:
    """Draw the long profile of the thalweg: bed, water, residual depth, tailouts."""
    field = field_at(case, k)
    thalwegs = find_thalwegs(field, channel_graph(field, RULES.channels), RULES.channels)
    main = next(t for t in thalwegs if t.channel == "main")
    figure, axes = plt.subplots(figsize=(12, 4.5))
    fall = main.bed[0] - 0.002 * main.along
    crest = main.bed + residual_depth(main.bed)
    axes.fill_between(main.along, main.bed - fall, crest - fall, color="#9ecae1", label="residual")
    axes.plot(main.along, main.bed - fall, "k", lw=1, label="bed of the thalweg")
    axes.plot(main.along, main.bed + main.depth - fall, color="#2171b5", label="water")
    for tailout in find_tailouts(field, [main], RULES.tailouts):
        span = slice(tailout.start, tailout.lip + 1)
        colour = KINDS["tailout"][0]
        axes.plot(main.along[span], (main.bed - fall)[span], color=colour, lw=4, label="tailout")
        axes.plot(main.along[tailout.lip], (main.bed - fall)[tailout.lip], "rv", ms=8)
    pools = find_pools(main.along, main.bed, RULES.tailouts.residual_low_m, 0.5 * main.width)
    axes.set_title(f"{field.label}: {len(pools)} pools, lips marked")
    axes.set_xlabel("metres down the thalweg")
    axes.set_ylabel("height less an even fall of 0.002, m")
    handles, labels = axes.get_legend_handles_labels()
    unique = dict(zip(labels, handles, strict=True))
    axes.legend(unique.values(), unique.keys(), loc="lower left", fontsize=8)
    save("tailouts", figure)


def picture_water(case: Case, flows: Sequence[int], station: float, name: str) -> None:
    """Draw speed, lane, its band and the candidates at some flows."""
    figure, all_axes = plt.subplots(
        1, len(flows), figsize=(5 * len(flows), 5), layout="constrained"
    )
    for axes, k in zip(all_axes, flows, strict=True):
        field, layers = field_at(case, k), case.readings[k].layers
        image = backdrop(axes, field, field.speed, cmap="Blues", vmin=0, vmax=2.2)
        draw(axes, layers["bands"], facecolor="#ffff99", alpha=0.45)
        for kind, (colour, _) in KINDS.items():
            draw(
                axes,
                layers["water"][layers["water"]["kind"] == kind],
                facecolor=colour,
                edgecolor="k",
                alpha=0.75,
                lw=0.6,
            )
        draw(axes, layers["lanes"], color="#b2182b", lw=2)
        for row in layers["water"].itertuples():
            spot = row.geometry.representative_point()
            axes.text(
                spot.x, spot.y, f"{row.code} {row.score:.0f}", fontsize=8, clip_on=True,
                ha="center", bbox={"fc": "w", "lw": 0, "pad": 0.6, "alpha": 0.7},
            )  # fmt: skip
        axes.set_title(field.label)
        frame_on(axes, case, station)
    figure.colorbar(image, ax=all_axes, shrink=0.7, label="speed, m/s")
    handles = [mpl.patches.Patch(color=colour, label=words) for colour, words in KINDS.values()]
    handles.append(mpl.lines.Line2D([], [], color="#b2182b", label="travel lane"))
    handles.append(mpl.patches.Patch(color="#ffff99", label="its band"))
    figure.legend(handles=handles, loc="outside lower center", ncol=6, fontsize=9)
    save(name, figure)


def picture_runs(case: Case) -> None:
    """Draw the table of runs by flow."""
    layers = [r.layers["water"] for r in case.readings]
    water = gpd.GeoDataFrame(pd.concat(layers, ignore_index=True), crs=layers[0].crs)
    named = reachmap.open_reach(SAMPLE).drawing.runs
    water, runs = follow_runs(water, case.ground, named, RULES)
    table = runs_by_flow(water, runs, case.flows, RULES)
    labels = [str(label) for label in case.flows["asked"].to_numpy()]
    wide = table.pivot_table(index="run", columns="flow_label", values="score")
    wide = wide.reindex(runs["run"])[labels]
    figure, axes = plt.subplots(figsize=(13, 0.32 * len(wide) + 1))
    axes.imshow(np.where(wide > 0, wide, np.nan), cmap="Greens", vmin=0, vmax=110, aspect="auto")
    for i, run in enumerate(wide.index):
        for j, label in enumerate(labels):
            row = table[(table["run"] == run) & (table["flow_label"] == label)].iloc[0]
            told = f"{row['score']:.0f}" if row["score"] > 0 else shape_words(row.to_dict())
            axes.text(j, i, told, ha="center", va="center", fontsize=7)
    axes.set_xticks(range(len(labels)), labels)
    axes.set_yticks(range(len(wide)), list(wide.index))
    axes.xaxis.tick_top()
    save("runs", figure)


def main() -> int:
    """Draw all pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--method", choices=("engine", "profile"), default="engine")
    case = drawn_case(parser.parse_args().method, FLOWS_CFS, RULES)
    picture_suits(case, 2, 700)
    picture_bends(case)
    picture_channels(case, (0, 4, 7))
    picture_seams(case, (2, 4, 6), 1130)
    picture_tailouts(case, 1)
    picture_water(case, (0, 4, 7), 700, "candidates")
    picture_water(case, (0, 4, 7), 1540, "island")
    picture_runs(case)
    return 0


if __name__ == "__main__":
    sys.exit(main())
