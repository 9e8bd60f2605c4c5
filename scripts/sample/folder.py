"""Writing the made-up river: the reach folder an angler would have, and the truth for tests."""

from __future__ import annotations

from pathlib import Path

from reachmap.flow import FlowSettings
from reachmap.markup.write import layer_of, write_layers

from . import dem, drawing, gauge, plan, points, truth
from .water import SETTINGS, TrueWater, run_water

DATE = "2030-01-27T12:00:00Z"
"""What the GeoPackage says of when it was written, so that its bytes are the same each time."""


def make_sample(
    sample: Path, truth_folder: Path, *, settings: FlowSettings = SETTINGS
) -> TrueWater:
    """Write the reach folder and the true river; return the true river with its flows.

    Parameters
    ----------
    sample
        The reach folder; files of its inputs are written anew.
    truth_folder
        Where the true river is kept for tests.
    settings
        How its flows are worked out.
    """
    line = plan.centreline()
    truth.write_truth(truth_folder / truth.TRUE_RASTER, truth.make_truth(line))
    laid = truth.read_truth(truth_folder / truth.TRUE_RASTER)
    ground = truth.truth_ground(laid, line, cell=2)
    water = run_water(laid, line, ground, plan.WORKED_OUT_CFS, settings)
    sample.mkdir(parents=True, exist_ok=True)
    dem.write_dem(sample / "dem.tif", dem.flown_ground(water), water)
    _write_drawing(sample / "markup.gpkg", water)
    (sample / "gauge").mkdir(exist_ok=True)
    texts = {
        "gauge/rating.csv": gauge.rating_text(water),
        "gauge/flow.csv": gauge.record_text(),
        "clarity.csv": gauge.clarity_text(),
        "reach.toml": reach_toml(),
        "README.md": README,
    }
    for name, text in texts.items():
        (sample / name).write_text(text, encoding="utf-8", newline="\n")
    return water


def _write_drawing(path: Path, water: TrueWater) -> None:
    """Write every mark-up layer."""
    line = water.line
    rows = {
        "river": drawing.river_rows(line),
        "banks": drawing.bank_rows(water),
        "edges": drawing.edge_rows(water),
        "soundings": points.sounding_rows(water),
        "speeds": points.speed_rows(water),
        "levels": points.level_rows(water),
        "trees": points.tree_rows(line),
        "rocks": points.rock_rows(line),
        "hazards": points.hazard_rows(water),
        "access": points.access_rows(line),
        "runs": points.run_rows(line),
    }
    path.unlink(missing_ok=True)
    layers = {name: layer_of(name, found, plan.CRS) for name, found in rows.items()}
    write_layers(path, layers, date=DATE)


def reach_toml() -> str:
    """Return reach.toml."""
    flows = ", ".join(str(flow) for flow in plan.MAP_FLOWS_CFS)
    return f'''# An invented river. No such place exists: it lies in the middle of an ocean.
format = 1
name = "{plan.NAME}"
units = "us"              # plain numbers here and in the drawing are feet, ft/s and cfs

[river]
traced_flow = {plan.TRACED_FLOW_CFS}         # the river's flow when the banks were traced

[flows]
list = [{flows}]

[dem]
files = ["dem.tif"]
flow = {plan.DEM_FLOW_CFS}                # the river's flow on the day it was flown
height_unit = "m"
datum = "{plan.DATUM}"

[gauge]
name = "Made-up gauge (invented)"
files = ["gauge/rating.csv", "gauge/flow.csv"]
zero = "{plan.GAUGE_ZERO_M:g} m"         # height of the gauge's zero
datum = "{plan.DATUM}"
time_zone = "UTC"

[season]
name = "winter"

[angler]
height = "5 ft 10 in"
wade_limit = "3 ft"
hand = "right"            # the upper hand on the rod
leader = "4 ft"
cast_limit = "85 ft"      # to the fly

# Kit in the terms of the trade. Sink rates are from memory; measure your own.
{_kit()}'''


RODS = (("13 ft 7-weight", 13, 7), ("14 ft 8-weight", 14, 8), ("12 ft 6-weight", 12, 6))
HEADS = (
    ("skagit 24", 24, "skagit"), ("scandi 34", 34, "scandi"),
    ("mid belly 55", 55, "mid belly"), ("long belly 68", 68, "long belly"),
)  # fmt: skip
TIPS = (
    ("floating 10 ft", 10, 0.0), ("intermediate 10 ft", 10, 1.4), ("type 3 15 ft", 15, 3.0),
    ("T-8 10 ft", 10, 6.5), ("T-11 10 ft", 10, 7.5), ("T-14 10 ft", 10, 8.5),
    ("T-14 15 ft", 15, 8.5),
)  # fmt: skip
"""Lengths [ft], sink rates [in/s] from memory: intermediate 1-1.75, type 3
2.5-3.5, T-8 6-7, T-11 7-8, T-14 8-9."""


def _kit() -> str:
    """Return the kit's part of reach.toml."""
    parts = [
        f'[[rod]]\nname = "{name}"\nlength = {length}\nline_weight = {weight}\n'
        for name, length, weight in RODS
    ]
    parts += [
        f'[[head]]\nname = "{name}"\nlength = {length}\nfamily = "{family}"\n'
        for name, length, family in HEADS
    ]
    parts += [
        f'[[tip]]\nname = "{name}"\nlength = {length}\nsink = "{sink:g} in/s"\n'
        for name, length, sink in TIPS
    ]
    return "\n".join(parts)


README = f"""# {plan.NAME}

**Nothing here is real.** The river, its heights, its gauge, its flows, the names of its runs and
the notes on its hazards are invented by `scripts/sample_river.py`, and it is laid into the middle
of an ocean, where no land is. It shows what a reach folder holds and what reachmap makes of it.

| file | what it is |
|---|---|
| `reach.toml` | the plan: flows to map, the DEM, the gauge, the angler, the kit |
| `markup.gpkg` | the drawing: river, banks, edges, soundings, hazards, access, runs and more |
| `dem.tif` | ground at 1 m "flown" at {plan.DEM_FLOW_CFS} cfs: it sees the water, not the bed |
| `gauge/rating.csv` | stage in feet and flow in cfs at the gauge |
| `gauge/flow.csv` | three weeks of hourly flow, with a storm and its recession |
| `clarity.csv` | how far an angler saw into the water, at which flow, on the rise or on the fall |

Plain numbers are in feet, feet per second and cubic feet per second, unless they carry their unit.
The drawing was made from the true river with the errors of a human hand: the river line wanders
2 to 5 m, water's edges are off by about half a metre, soundings by 2 inches. What the true bed is,
only the tests know.
"""
