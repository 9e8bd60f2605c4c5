"""Judge speed across measured sections: by one Manning n, and with n that falls with depth.

    REACHMAP_SECTIONS=FILE.csv python -m scripts.judge_speed [--size 0.13] [--engine]

The file is a survey's and stays outside the project: columns section, station_m (along the section
from its left or right edge), depth_m, speed_m_s, discharge_m3_s and whole_section. Each becomes a
straight channel of its own, the bed straight between its verticals, falling so that by the law
judged it carries what its verticals carry at the measured level; the flow stage solves that flow,
and its speed at each vertical is set against the measured one. So what is judged is how a flow is
shared out across a section, not how much water there is. `--stated` takes the discharge stated for
the section instead, of those that span the river. `--made` and `--cost` ask for no
file: how far maps of a made river are off whose water follows the law, and what the law costs the
engine on the made rivers of its tests.

Prints, for all verticals together: the root mean square of the difference of speed, its mean in the
shallowest and the deepest third, and the power of depth that speed goes with within sections.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.resistance import Stones  # noqa: E402
from reachmap.base.words import COVER_CODES, Cover  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.flow.engine.settings import EngineSettings  # noqa: E402
from reachmap.flow.notes import NoteKind, notes_of  # noqa: E402
from reachmap.ground import GroundSettings, build_ground  # noqa: E402
from tests.flow.engine import made_rivers  # noqa: E402
from tests.ground.stony_river import FLOWS, gaps, stony_river  # noqa: E402

CELL_M = 1.0
LENGTH_M = 160.0
ROUGHNESS = GroundSettings().channel_roughness
LEAST_DEPTH_M = 0.05
"""Verticals with less water are not judged [m]."""


def channel(section: pd.DataFrame, slope: float, stones: Stones) -> xr.Dataset:
    """Return a straight channel, east down the river, with the section's bed all along.

    Beyond the outer verticals the bed rises to the water within half of their spacing.
    """
    across = section.station_m.to_numpy(dtype=float)
    bed = -section.depth_m.to_numpy(dtype=float)
    near = 0.5 * np.diff(across)[[0, -1]]
    across = np.r_[across[0] - near[0] - 8, across[0] - near[0], across,
                   across[-1] + near[1], across[-1] + near[1] + 8]  # fmt: skip
    bed = np.r_[2.0, 0.0, bed, 0.0, 2.0]
    middle = 0.5 * (across[0] + across[-1])
    y = np.arange(across[0] + CELL_M / 2, across[-1], CELL_M)[::-1]
    x = np.arange(CELL_M / 2, LENGTH_M, CELL_M)
    shape = (y.size, x.size)
    z = np.interp(y, across, bed)[:, None] + slope * (LENGTH_M / 2 - x)[None, :]
    station = np.broadcast_to(x, shape).copy()
    offset = np.broadcast_to((y - middle)[:, None], shape).copy()
    line = np.arange(0.0, LENGTH_M + 1.0)
    fields = {
        "bed": z,
        "cover": np.full(shape, COVER_CODES[Cover.GRAVEL], np.uint8),
        "roughness": np.full(shape, ROUGHNESS),
        "surface": z,
        "station": station,
        "offset": offset,
        "confidence": np.full(shape, 0.9),
    }
    lines = {
        "line_x": line,
        "line_y": np.full(line.shape, middle),
        "line_station": line,
        "line_width": np.full(line.shape, across[-2] - across[1]),
    }
    return xr.Dataset(
        {name: (("y", "x"), values) for name, values in fields.items()}
        | {name: (("vertex",), values) for name, values in lines.items()},
        coords={"x": x, "y": y},
        attrs={
            "crs": "EPSG:32607",
            "cell": CELL_M,
            "slope": slope,
            "stone_size": stones.size_m,
            "stone_depth": stones.depth_m,
        },
    )


def judged(section: pd.DataFrame, size: float, method: str, *, stated: bool) -> pd.DataFrame:
    """Return the section's verticals with the solved speed beside the measured one."""
    depth = section.depth_m.to_numpy(dtype=float)
    across = section.station_m.to_numpy(dtype=float)
    own = float(np.trapezoid(depth * section.speed_m_s.to_numpy(dtype=float), across))
    flow = float(section.discharge_m3_s.iloc[0]) if stated else own
    stones = Stones(size, float(np.trapezoid(depth, across) / (across[-1] - across[0])))
    fine = np.linspace(across[0], across[-1], 2000)
    carried = stones.carried(np.interp(fine, across, depth), ROUGHNESS)
    slope = (flow / float(np.trapezoid(carried, fine))) ** 2
    made = channel(section, slope, stones)
    settings = FlowSettings(method=method, engine=EngineSettings())
    water = solve(made, [flow], settings).isel(flow=0)
    middle = water.isel(x=slice(made.sizes["x"] // 2 - 2, made.sizes["x"] // 2 + 3))
    speed = np.hypot(middle["east_speed"], middle["north_speed"]).mean("x").to_numpy()
    y = made["y"].to_numpy()[::-1]
    solved = np.interp(across, y, np.nan_to_num(speed[::-1]))
    out = pd.DataFrame({"section": section.section, "depth": depth, "measured": section.speed_m_s})
    out["solved"] = solved
    return out[depth >= LEAST_DEPTH_M]


def power(table: pd.DataFrame, column: str) -> float:
    """Return the power of depth that a speed goes with within sections, by least squares."""
    use = table[(table[column] > 0.02)]
    logs = np.log(use[["depth", column]])
    inner = logs - logs.groupby(use.section).transform("mean")
    return float((inner.depth * inner[column]).sum() / (inner.depth**2).sum())


def cost() -> None:
    """Print cycles and processor seconds of the engine on made rivers, without and with stones."""
    print("| river | m3/s | cycles without stones | with | s without | with |")
    print("|---|---|---|---|---|---|")
    for make, flows, stones in (
        (made_rivers.winding, (15.0, 60.0, 140.0), Stones(0.13, 1.0)),
        (made_rivers.steep, (1.5, 5.0, 12.0), Stones(0.3, 0.6)),
        (made_rivers.braided, (20.0, 80.0, 250.0), Stones(0.13, 0.6)),
    ):
        plain = make()
        stony = plain.assign_attrs(stone_size=stones.size_m, stone_depth=stones.depth_m)
        solve(stony, flows[:1], FlowSettings(method="engine"))  # kernels are loaded
        for flow in flows:
            told = []
            for ground in (plain, stony):
                begun = time.process_time()
                water = solve(ground, [flow], FlowSettings(method="engine"))
                took = time.process_time() - begun
                solved = next(one for one in notes_of(water) if one.kind == NoteKind.SOLVED)
                told.append((solved.value("cycles"), took))
            (less, quick), (more, slow) = told
            print(
                f"| {make.__name__} | {flow:g} | {less:.0f} | {more:.0f} "
                f"| {quick:.2f} | {slow:.2f} |"
            )


def made_river() -> None:
    """Print how far maps of a made river are off whose water follows the law, by what is said."""
    truth, drawn, dem = stony_river()
    print("| method | bed | m3/s | speed rms m/s | edges m/s | depth bias m | depth rms m |")
    print("|---|---|---|---|---|---|---|")
    for method in ("profile", "engine"):
        settings = FlowSettings(method=method)
        true = solve(truth, FLOWS, settings)
        for bed in ("", "gravel", "cobble"):
            said = replace(drawn, plan=replace(drawn.plan, bed=bed))
            got = solve(build_ground(said, dem, GroundSettings()), FLOWS, settings)
            for number, flow in enumerate(FLOWS):
                speed, edges, bias, deep = gaps(got.isel(flow=number), true.isel(flow=number))
                print(
                    f"| {method} | {bed or 'not said'} | {flow:g} | {speed:.3f} | {edges:+.3f} "
                    f"| {bias:+.3f} | {deep:.3f} |"
                )


def main(words: list[str] | None = None) -> None:
    """Print the judgement."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--size", type=float, nargs="+", default=[0.0, 0.13], help="of stones [m]")
    asked.add_argument("--engine", action="store_true", help="by the engine; else by the profile")
    asked.add_argument("--stated", action="store_true", help="take the discharge stated")
    asked.add_argument("--made", action="store_true", help="maps of a made river with stones")
    asked.add_argument("--cost", action="store_true", help="the engine's cycles on made rivers")
    options = asked.parse_args(words)
    if options.made:
        made_river()
        return
    if options.cost:
        cost()
        return
    place = os.environ.get("REACHMAP_SECTIONS")
    if not place or not Path(place).is_file():
        sys.exit("REACHMAP_SECTIONS names no file of measured sections")
    survey = pd.read_csv(place)
    survey = survey[survey.depth_m.notna() & survey.speed_m_s.notna()]
    if options.stated:
        survey = survey[survey.whole_section]
    method = "engine" if options.engine else "profile"
    print(f"| stones m | rmse m/s | bias, shallow third | bias, deep third | power ({method}) |")
    print("|---|---|---|---|---|")
    for size in options.size:
        table = pd.concat(
            judged(one.sort_values("station_m"), size, method, stated=options.stated)
            for _, one in survey.groupby("section")
        )
        off = table.solved - table.measured
        rank = table.groupby("section").depth.rank(pct=True)
        print(
            f"| {size:g} | {np.sqrt((off**2).mean()):.3f} | {off[rank <= 1 / 3].mean():+.3f} "
            f"| {off[rank > 2 / 3].mean():+.3f} | {power(table, 'solved'):.2f} |"
        )
    print(f"measured: {len(table)} verticals, power {power(table, 'measured'):.2f}")


if __name__ == "__main__":
    main()
