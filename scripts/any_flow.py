"""How well flows between solved ones are told: the table and picture of docs/any-flow.md.

    python -m scripts.any_flow

Solves the sample river at the flows of its reach.toml, leaves each inner one out in turn, and
compares what is worked out between the others with what the engine gave. Written into the docs
between their marks, and docs/pictures/any-flow.png.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.flow import FlowSettings, solve
from reachmap.flow.between import SolvedFlows, Water
from reachmap.flow.nodes import left_out
from reachmap.ground import GroundSettings
from reachmap.markup import read_markup
from reachmap.pipeline.terrain import make_terrain

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "data_samples" / "madeup_river"
PAGE, PICTURE = ROOT / "docs" / "any-flow.md", ROOT / "docs" / "pictures" / "any-flow.png"
BEGIN, END = "<!-- left out -->", "<!-- end of left out -->"
SOFT = (0.4, 0.1, 0.5)
"""Soft water of the comparison: at least so deep [m], from and to this speed [m/s]; our choice."""


def main() -> int:
    """Solve, compare, write."""
    reach = read_markup(SAMPLE)
    ground = make_terrain(reach, GroundSettings(), None)
    flows = reach.plan.flows
    fields = solve(ground, flows, FlowSettings(method="engine"))
    solved = SolvedFlows.of(ground, fields)
    rows = [_row(solved, k) for k in range(1, len(flows) - 1)]
    _write("\n".join([*HEAD, *rows]))
    worst = max(left_out(solved), key=lambda one: one.speed_rms_m_s)
    _draw(solved, int(np.argmin(np.abs(solved.flows - worst.flow))), ground)
    sys.stdout.write(f"Wrote {PAGE} and {PICTURE}\n")
    return 0


HEAD = [
    "| left out | from its four neighbours: depth rms, 95 % | speed rms, median, 95 % | wet or "
    "dry wrong | soft water in common | the nearest solved flow instead: depth, speed, soft |",
    "|---|---|---|---|---|---|",
]


def _row(solved: SolvedFlows, k: int) -> str:
    """Return one flow's line of the table."""
    flow = float(solved.flows[k])
    made = solved.without(k).water_at(flow)
    away = np.abs(np.log(solved.flows / flow))
    away[k] = np.inf
    near = int(np.argmin(away))
    nearest = Water(
        made.place, solved.depth[near], solved.east[near], solved.north[near], solved.wet[near]
    )
    deep, fast, wrong, soft = _errors(solved, k, made)
    far, slow, _, common = _errors(solved, k, nearest)
    return (
        f"| {flow_words(flow, UnitSystem.US)} | {1e3 * _rms(deep):.1f}, "
        f"{1e3 * np.percentile(deep, 95):.0f} mm | {1e2 * _rms(fast):.1f}, "
        f"{1e2 * np.median(fast):.1f}, {1e2 * np.percentile(fast, 95):.1f} cm/s | "
        f"{100 * wrong:.2f} % | {soft:.3f} | {1e3 * _rms(far):.0f} mm, "
        f"{1e2 * _rms(slow):.1f} cm/s, {common:.2f} |"
    )


def _errors(
    solved: SolvedFlows, k: int, made: Water
) -> tuple[FloatArray, FloatArray, float, float]:
    """Return errors of depth [m] and speed [m/s], share wet or dry wrong, soft water in common."""
    wet, depth = solved.wet[k], solved.depth[k]
    speed = np.hypot(solved.east[k], solved.north[k])
    both = made.wet & wet
    least, slow, fast = SOFT
    soft = [
        here & (d >= least) & (v >= slow) & (v <= fast)
        for here, d, v in ((wet, depth, speed), (made.wet, made.depth, made.speed))
    ]
    common = (soft[0] & soft[1]).sum() / (soft[0] | soft[1]).sum()
    return (
        np.abs(made.depth - depth)[both],
        np.abs(made.speed - speed)[both],
        float((made.wet != wet).sum() / wet.sum()),
        float(common),
    )


def _rms(values: FloatArray) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(values**2)))


def _draw(solved: SolvedFlows, k: int, ground: xr.Dataset) -> None:
    """Draw where speed and depth of a left-out flow are found wrong."""
    mpl.use("Agg")
    from matplotlib import pyplot as plt

    flow = float(solved.flows[k])
    made = solved.without(k).water_at(flow)
    speed = np.hypot(solved.east[k], solved.north[k])
    fields = (
        ("speed, cm/s", 100 * (made.speed - speed), made.wet & solved.wet[k], 15),
        ("depth, cm", 100 * (made.depth - solved.depth[k]), made.wet & solved.wet[k], 5),
    )
    figure, axes = plt.subplots(2, 1, figsize=(9, 10), constrained_layout=True)
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    extent = (0.0, float(x[-1] - x[0]), 0.0, float(y[0] - y[-1]))
    for ax, (name, error, both, most) in zip(axes, fields, strict=True):
        raster = np.full(solved.shape, np.nan)
        raster.ravel()[solved.cells[both]] = error[both]
        shown = ax.imshow(raster, cmap="PuOr", vmin=-most, vmax=most, extent=extent)
        wrong = np.full(solved.shape, np.nan)
        wrong.ravel()[solved.cells[made.wet != solved.wet[k]]] = 1.0
        ax.imshow(wrong, cmap="gray", vmin=0, vmax=2, extent=extent)
        ax.set_title(
            f"{flow_words(flow, UnitSystem.US)} worked out from its neighbours less solved: {name}"
        )
        ax.set_xlabel("metres")
        figure.colorbar(shown, ax=ax, shrink=0.7)
    figure.savefig(PICTURE, dpi=110)


def _write(table: str) -> None:
    """Put the table between its marks in the docs."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    PAGE.write_text(f"{before}{BEGIN}\n{table}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
