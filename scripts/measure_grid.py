"""What the size of the cells costs and gives: python -m scripts.measure_grid.

Each made river (`grid_rivers.py`, ground by formula) is solved on cells of 4, 2, 1 and 0.5 m and
held against 0.25 m, away from its ends. Prints the tables of docs/cells.md and draws
docs/pictures/grid-error.png. `--quick` holds against 0.5 m.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import shapely
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import Season, Wet
from reachmap.flow import FlowSettings, foot_levels
from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.wet_edge import wet_polygons
from reachmap.markup.defaults import LIMITS
from scripts.grid_rivers import RIVERS, MadeRiver

PICTURE = Path(__file__).resolve().parent.parent / "docs" / "pictures" / "grid-error.png"
CELLS = (4.0, 2.0, 1.0, 0.5)
FAR = {
    "section_error": 2e-4, "depth_change_m": 5e-5, "speed_change_m_s": 2e-4,
    "speed_remaining_m_s": 1e-3,
}  # fmt: skip
"""A tenth of the engine's own tolerances."""
WAYS = ("east", "north")


@dataclass(frozen=True)
class Solved:
    """A river solved on cells of one size, seconds of the processor, and how far it still was."""

    ground: xr.Dataset
    flow: xr.Dataset
    seconds: float = 0.0
    left: float = np.nan

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return float(self.ground.attrs["cell"])

    @property
    def wet(self) -> BoolArray:
        """Return the wet cells."""
        return np.asarray(self.flow["wet"].to_numpy() == Wet.YES)

    def field(self, name: str) -> FloatArray:
        """Return a field, 0 where it has no number."""
        return np.nan_to_num(self.flow[name].to_numpy())


def solved(river: MadeRiver, cell: float, foot: float, settings: EngineSettings) -> Solved:
    """Return a river solved from nothing."""
    ground = river.ground(cell)
    began = time.process_time()
    flow = solve_engine(ground, [river.flow], [foot], settings, workers=1).isel(flow=0)
    return Solved(ground, flow, time.process_time() - began)


def rms(values: FloatArray) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(values**2)))


def speed_apart(one: Solved, other: Solved) -> float:
    """Return the root-mean-square distance of velocities of two answers on the same cells."""
    both = one.wet & other.wet & (one.field("depth") > 0.05)
    gaps = [(one.field(f"{way}_speed") - other.field(f"{way}_speed"))[both] for way in WAYS]
    return rms(np.hypot(*gaps))


def fine(values: np.ndarray, times: int) -> np.ndarray:
    """Return each cell as so many by so many."""
    return np.repeat(np.repeat(values, times, axis=0), times, axis=1)


def means(values: FloatArray, times: int) -> FloatArray:
    """Return the means over so many by so many cells."""
    rows, cols = values.shape[0] // times, values.shape[1] // times
    return np.asarray(values.reshape(rows, times, cols, times).mean(axis=(1, 3)))


def as_drawn(one: Solved, best: Solved, middle: BoolArray) -> list[float]:
    """Return depth rms [m], velocity rms [m/s] and overlap of soft water on the best one's cells.

    Each small cell takes the value of the larger one that holds it, as a map is read.
    """
    times = round(one.cell / best.cell)
    wet = fine(one.wet, times)
    both = wet & best.wet & middle
    depth = (fine(one.field("depth"), times) - best.field("depth"))[both]
    gaps = [
        (fine(one.field(f"{way}_speed"), times) - best.field(f"{way}_speed"))[both] for way in WAYS
    ]
    soft, other = fine(soft_water(one), times) & middle, soft_water(best) & middle
    overlap = (soft & other).sum() / (soft | other).sum()
    return [rms(depth), rms(np.hypot(*gaps)), float(overlap)]


def of_means(one: Solved, best: Solved, middle: BoolArray) -> list[float]:
    """Return depth rms [m] and velocity rms [m/s] against the best one's means over each cell."""
    times = round(one.cell / best.cell)
    inside = (means((best.wet & middle).astype(float), times) == 1) & one.wet
    depth = means(best.field("depth"), times)
    gaps = []
    for way in WAYS:
        carried = means(best.field("depth") * best.field(f"{way}_speed"), times)
        with np.errstate(invalid="ignore"):
            gaps.append((one.field(f"{way}_speed") - carried / depth)[inside])
    return [rms((one.field("depth") - depth)[inside]), rms(np.hypot(*gaps))]


def soft_water(one: Solved) -> BoolArray:
    """Return the cells within the limits of winter."""
    limits, depth = LIMITS[Season.WINTER], one.field("depth")
    speed = np.hypot(one.field("east_speed"), one.field("north_speed"))
    deep = (depth >= limits.depth_low_m) & (depth <= limits.depth_high_m)
    quick = (speed >= limits.speed_low_m_s) & (speed <= limits.speed_high_m_s)
    return np.asarray(one.wet & deep & quick)


def edges_apart(one: Solved, best: Solved, river: MadeRiver) -> list[float]:
    """Return how far the edges as drawn lie from the best one's: median and 95 of 100 [m]."""
    outlines = [
        shapely.union_all([p.boundary for p in wet_polygons(s.flow, s.ground)[:1]])
        for s in (one, best)
    ]
    places = shapely.points(
        [
            line.interpolate(at).coords[0]
            for line in shapely.get_parts(outlines[1])
            for at in np.arange(0.0, line.length, 0.5)
        ]
    )
    x, y = shapely.get_x(places), shapely.get_y(places)
    station = best.ground["station"].sel(
        x=xr.DataArray(x, dims="p"), y=xr.DataArray(y, dims="p"), method="nearest"
    )
    away = shapely.distance(outlines[0], places)[np.asarray(within(station.to_numpy(), river))]
    return [float(np.percentile(away, share)) for share in (50, 95)]


def within(station: FloatArray, river: MadeRiver) -> BoolArray:
    """Return which stations are more than a width from both ends."""
    with np.errstate(invalid="ignore"):
        return np.asarray((station > river.width) & (station < river.length - river.width))


def measure(river: MadeRiver, cells: Sequence[float], best_cell: float) -> list[list[float]]:
    """Print a river's table and return its rows."""
    settings = EngineSettings()
    foot = float(foot_levels(river.ground(best_cell), [river.flow], FlowSettings())[0])
    far = replace(settings, **FAR)
    solved(river, cells[0], foot, settings)  # from here on nothing is compiled
    best = solved(river, best_cell, foot, far)
    middle = within(best.ground["station"].to_numpy(), river)
    print(
        f"\n{river.name}, {river.length:g} m long, {river.flow:g} m3/s, against {best_cell:g} m\n\n"
        "| cells m | across | wet cells | processor s | still to converge cm/s | depth rms mm | "
        "speed rms cm/s | of cell means: depth mm | speed cm/s | edges off, median m | 95 of 100 | "
        "soft water overlaps |\n" + "|---" * 12 + "|"
    )
    rows = []
    for cell in cells:
        one = solved(river, cell, foot, settings)
        one = replace(one, left=speed_apart(one, solved(river, cell, foot, far)))
        drawn, mean = as_drawn(one, best, middle), of_means(one, best, middle)
        edges = edges_apart(one, best, river)
        row = [cell, one.seconds, one.left, *drawn, *mean, *edges]
        print(
            f"| {cell:g} | {river.width / cell:.0f} | {int(one.wet.sum())} | {one.seconds:.2f} | "
            f"{100 * one.left:.2f} | {1000 * drawn[0]:.0f} | {100 * drawn[1]:.1f} | "
            f"{1000 * mean[0]:.0f} | {100 * mean[1]:.1f} | {edges[0]:.2f} | {edges[1]:.2f} | "
            f"{drawn[2]:.2f} |",
            flush=True,
        )
        rows.append(row)
    table = np.array(rows)
    for label, column in (("as drawn", 4), ("of cell means", 7)):
        orders = np.log2(table[:-1, column] / table[1:, column])
        print(f"order of the speed, {label}: {', '.join(f'{order:.2f}' for order in orders)}")
    return rows


def draw(found: dict[str, list[list[float]]]) -> None:
    """Draw error against the size of the cells and against time."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(9, 3.6), layout="constrained")
    for name, rows in found.items():
        table = np.array(rows)
        left.loglog(table[:, 0], 100 * table[:, 4], "o-", label=f"{name}, as drawn")
        left.loglog(table[:, 0], 100 * table[:, 7], "s--", label=f"{name}, cell means")
        left.loglog(table[:, 0], 100 * table[:, 2], "v:", label=f"{name}, not yet converged")
        right.loglog(table[:, 1], 100 * table[:, 4], "o-", label=name)
        for row in rows:
            right.annotate(
                f"{row[0]:g} m", (row[1], 100 * row[4]), xytext=(4, 4), textcoords="offset points"
            )
    sizes = np.array([0.5, 4.0])
    left.loglog(sizes, 4 * sizes, color="0.7", lw=1, label="order 1")
    left.set(xlabel="cells, m", ylabel="speed off, cm/s rms")
    left.set_xticks(CELLS, [f"{cell:g}" for cell in CELLS])
    left.set_xticks([], minor=True)
    left.legend(fontsize=6)
    right.set(xlabel="processor seconds", ylabel="speed off as drawn, cm/s rms")
    right.legend(fontsize=7)
    figure.savefig(PICTURE, dpi=110)


def main() -> None:
    """Print the tables and draw the picture."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true")
    quick = asked.parse_args().quick
    cells, best = (CELLS[:-1], 0.5) if quick else (CELLS, 0.25)
    found = {river.name: measure(river, cells, best) for river in RIVERS}
    if not quick:
        draw(found)


if __name__ == "__main__":
    main()
