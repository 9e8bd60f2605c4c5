"""Draw the pictures of docs/flow-engine.md and print its tables of errors and orders.

Run from the project's root as `python -m scripts.engine_plots`; needs matplotlib.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import matplotlib as mpl
import numpy as np

mpl.use("Agg")
import matplotlib.pyplot as plt

from reachmap.base.arrays import FloatArray
from reachmap.flow import FlowSettings, foot_levels
from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.notes import notes_of
from tests.flow.engine import exact
from tests.flow.engine.made_bends import Bend
from tests.flow.engine.made_channels import channel, settle, strip
from tests.flow.engine.made_rivers import RIVERS

FOLDER = Path("docs/pictures")
WATER, BED, EXACT = "#2b7bba", "#8a7350", "#c23b22"


Curve = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Strip:
    """A channel whose exact depth is known: bed and depth by station, and how it is driven."""

    name: str
    bed: Curve
    depth: Curve
    unit_flow: float
    foot: float
    length: float
    start: float
    rough: float = 1e-9
    correction: float = 0.0


@dataclass(frozen=True)
class Settled:
    """What the engine makes of it: stations, depth found, and what is left of every error."""

    station: FloatArray
    depth: FloatArray
    change: float
    section_error: float
    flow_error: float


STRIPS = (
    Strip("subcritical bump", exact.bump_bed, exact.bump_subcritical, 4.42, 2.0, 25, 2.0),
    Strip("transcritical bump", exact.bump_bed, exact.bump_transcritical, 1.53, -9, 25, 0.66),
    Strip(
        "bump with a jump", exact.bump_bed, lambda x: exact.bump_with_jump(x)[0], 0.18, 0.33, 25,
        0.66,
    ),
    Strip(
        "MacDonald's channel", lambda x: exact.macdonald(x)[1], lambda x: exact.macdonald(x)[0],
        2.0, float(exact.macdonald(np.array([0.0]))[2]), 1000, 0.9, rough=0.033, correction=0.6,
    ),
)  # fmt: skip


def settled(case: Strip, cells: int) -> Settled:
    """Return the settled water of a strip cut into so many cells."""
    cell = case.length / cells
    x = (np.arange(cells) + 0.5) * cell
    solver = channel(
        strip(case.bed(x)), case.rough, cell, case.unit_flow * 3 * cell, case.foot, thin_m=1e-6
    )
    solver.water[:, 0] = case.start - (solver.cells.bed if case.rough < 1e-6 else 0.0)
    solver.water[:, 1] = case.unit_flow / solver.water[:, 0]
    change = settle(solver, 1500, correction=case.correction)
    middle = solver.cells.row == 2
    order = np.argsort(solver.cells.station[middle])
    depth = solver.water[middle, 0][order]
    flow = depth * solver.water[middle, 1][order]
    off = float(np.abs(flow - case.unit_flow).mean())
    return Settled(x, depth, change, solver.balance()[0], off)


def print_rows(case: Strip) -> None:
    """Print a table of errors and orders."""
    before = None
    for cells in (50, 100, 200, 400):
        found = settled(case, cells)
        gap = np.abs(found.depth - case.depth(found.station))
        off = float(gap.mean())
        order = "" if before is None else f"{np.log2(before / off):.2f}"
        print(
            f"| {case.name} | {cells} | {off:.2e} | {order} | {gap.max():.1e} | "
            f"{found.flow_error:.1e} | {found.section_error:.0e} | {found.change:.0e} |"
        )
        before = off


def channels() -> None:
    """Draw the bumps and MacDonald's channel."""
    print(
        "| case | cells | mean error of depth m | order | worst m | mean error of q m2/s |"
        " section error | last change |\n|---|---|---|---|---|---|---|---|"
    )
    figure, axes = plt.subplots(2, 2, figsize=(11, 6.5), layout="constrained")
    for axis, case in zip(axes.ravel(), STRIPS, strict=True):
        print_rows(case)
        found = settled(case, 100)
        x, bed = found.station, case.bed(found.station)
        axis.plot(x, bed, color=BED, label="bed")
        axis.plot(x, bed + case.depth(x), color=EXACT, label="exact")
        axis.plot(x, bed + found.depth, "o", ms=2.5, color=WATER, label="engine, 100 cells")
        axis.set(title=case.name, xlabel="m along", ylabel="height m")
        axis.legend(frameon=False, fontsize=8)
    figure.savefig(FOLDER / "engine-channels.png", dpi=90)


def unsteady() -> None:
    """Draw the dam break and the bowl."""
    figure, axes = plt.subplots(1, 2, figsize=(11, 3.6), layout="constrained")
    for cells in (100, 200, 400, 800):
        cell = 10 / cells
        solver = channel(np.zeros((1, cells)), 1e-9, cell, closed=True, thin_m=1e-9)
        x = (solver.cells.col - 0.5) * cell
        solver.water[:, 0] = np.where(x < 5, 0.005, 0.0)
        time = 0.0
        while time < 6:
            time += solver.explicit(1, 0.4, together=True)
        depth, _ = exact.ritter(x, time)
        off = np.abs(solver.water[:, 0] - depth).mean()
        print(f"| dam break on dry ground | {cells} | {off:.2e} |")
        if cells == 200:
            order = np.argsort(x)
            axes[0].plot(x[order], 1000 * depth[order], color=EXACT, label="Ritter")
            axes[0].plot(x[order], 1000 * solver.water[order, 0], "o", ms=2.5, color=WATER,
                         label="explicit scheme, 200 cells")  # fmt: skip
    axes[0].set(title="dam break on dry ground after 6 s", xlabel="m", ylabel="depth mm")
    axes[0].legend(frameon=False, fontsize=8)
    for cells in (50, 100, 200):
        cell = 4 / cells
        x = (np.arange(cells) + 0.5) * cell
        gx, gy = np.meshgrid(x, x)
        bed, depth, east, north, period = exact.thacker(gx, gy, 0.0)
        solver = channel(bed, 1e-9, cell, closed=True, thin_m=1e-5)
        at = (solver.cells.row - 1, solver.cells.col - 1)
        solver.water[:] = np.stack([depth[at], east[at], north[at]], axis=1)
        time = 0.0
        while time < period:
            time += solver.explicit(1, 0.4, together=True)
        depth = exact.thacker(gx, gy, time)[1]
        off = np.abs(solver.water[:, 0] - depth[at]).sum() / depth.sum()
        print(f"| Thacker's bowl after a turn | {cells} x {cells} | {off:.2e} of the volume |")
    row = cells // 2
    found = solver.cells.spread(solver.water[:, 0], 0.0)[1:-1, 1:-1][row]
    axes[1].plot(x, bed[row], color=BED, label="bed")
    axes[1].plot(x, np.where(depth[row] > 0, bed[row] + depth[row], np.nan), color=EXACT,
                 label="Thacker")  # fmt: skip
    axes[1].plot(x, np.where(found > 1e-4, bed[row] + found, np.nan), "o", ms=2.5, color=WATER,
                 label="explicit scheme, 200 x 200 cells")  # fmt: skip
    axes[1].set(title="water turning in a bowl after a whole turn", xlabel="m", ylabel="height m")
    axes[1].legend(frameon=False, fontsize=8)
    figure.savefig(FOLDER / "engine-unsteady.png", dpi=90)


def bends() -> None:
    """Draw speeds across developed bends, without and with the closure."""
    figure, axes = plt.subplots(1, 2, figsize=(11, 3.8), layout="constrained")
    across = np.arange(78.0, 123.0, 2.0)
    for cell, mark in ((2.0, "s"), (1.0, "o")):
        bend = Bend(100, 40, 250, depth=1.0, rough=0.05, slope=0.002, cell=cell)
        bend.cycle(80)
        speed = bend.across(bend.solver.speed, across, 120, 180)
        axes[0].plot(across, speed, mark, ms=3.5, color=WATER, label=f"engine, {cell:g} m cells")
        radii, _, speeds = bend.developed()
        off = speed / np.interp(across, radii, speeds) - 1
        inner = np.abs(across - 100) < 18
        worst = 100 * np.abs(off[inner]).max()
        print(f"| bend, {cell:g} m cells: speed off by {worst:.1f} % at most |")
    axes[0].plot(radii, speeds, color=EXACT, label="Manning on each thread, S = S0 R/r")
    axes[0].set(title="developed flow round a bend (R 100 m, inside left)",
                xlabel="m from the bend's centre", ylabel="speed m/s")  # fmt: skip
    axes[0].legend(frameon=False, fontsize=8)
    across = np.arange(42.0, 79.0, 2.0)
    for closure, colour in ((False, "#888888"), (True, WATER)):
        bend = Bend(60, 30, 300, depth=2.0, rough=0.03, slope=0.001, cell=1.0, closure=closure)
        bend.cycle(160)
        speed = bend.across(bend.solver.speed, across, 170, 230)
        axes[1].plot(across, speed, "o", ms=3.5, color=colour,
                     label=f"engine, closure {'on' if closure else 'off'}")  # fmt: skip
    every = np.arange(38.0, 83.0)
    depths = np.nan_to_num(bend.across(bend.solver.water[:, 0], every, 170, 230))
    radii, speeds = bend.developed_with_helix(every, depths)
    axes[1].plot(radii, speeds, color=EXACT, label="the closure's own equation, developed")
    off = speed / np.interp(across, radii, speeds) - 1
    inner = np.abs(across - 60) < 12
    print(f"| closure, 1 m cells: speed off by {100 * np.abs(off[inner]).max():.1f} % at most |")
    axes[1].set(title="a deep tight bend (R 60 m, depth 2 m, inside left)",
                xlabel="m from the bend's centre", ylabel="speed m/s")  # fmt: skip
    axes[1].legend(frameon=False, fontsize=8)
    figure.savefig(FOLDER / "engine-bends.png", dpi=90)


def rivers() -> None:
    """Draw speeds of the three made rivers at their middle flow and print what was reached."""
    figure, axes = plt.subplots(3, 1, figsize=(10, 13), layout="constrained")
    for axis, (name, make) in zip(axes, RIVERS.items(), strict=True):
        ground = make()
        flows = list(ground.attrs["flows"])
        answer = solve_engine(
            ground, flows, foot_levels(ground, flows, FlowSettings()), EngineSettings()
        )
        for note in notes_of(answer):
            print(f"{name}: {note}")
        middle = answer.isel(flow=1)
        speed = np.hypot(middle["east_speed"], middle["north_speed"])
        x, y = (answer[a].to_numpy() - float(answer[a].min()) for a in ("x", "y"))
        shown = axis.pcolormesh(x, y, speed, cmap="viridis", vmax=float(speed.quantile(0.998)))
        figure.colorbar(shown, ax=axis, label="speed m/s", shrink=0.7)
        axis.set(title=f"{name}, {flows[1]:g} m3/s", xlabel="m", ylabel="m", aspect="equal")
    figure.savefig(FOLDER / "engine-rivers.png", dpi=80)


def main() -> None:
    """Draw and print everything."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    channels()
    unsteady()
    bends()
    rivers()


if __name__ == "__main__":
    main()
