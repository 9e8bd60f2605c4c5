"""Counts how often the checks of evidence speak up: on honest rivers, and on planted slips.

Run: python -m scripts.measure_evidence [--seeds 40] [--cell 2] [--only TEXT]
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
import shapely.ops

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.errors import DISAGREES, ReachmapError  # noqa: E402
from reachmap.base.units import FOOT_M  # noqa: E402
from reachmap.ground import Dem, GroundSettings, build_ground  # noqa: E402
from reachmap.markup.evidence import UNLIKELY  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from tests.ground.honest_rivers import Honest, honest  # noqa: E402

Slip = Callable[[Honest], tuple[Markup, Dem | None] | None]


def soundings_times(factor: float) -> Callable[[Markup], Markup]:
    """Return a slip of all soundings by a factor."""
    return lambda markup: replace(
        markup,
        soundings=tuple(replace(one, depth_m=one.depth_m * factor) for one in markup.soundings),
    )


def traced_times(factor: float) -> Callable[[Markup], Markup]:
    """Return a traced flow off by a factor."""
    return lambda markup: replace(
        markup, plan=replace(markup.plan, traced_flow=markup.plan.traced_flow * factor)
    )


def swapped(markup: Markup) -> Markup:
    """Return the drawing with the flows of its edges swapped."""
    flows = sorted({edge.flow for edge in markup.edges})
    other = dict(zip(flows, flows[::-1], strict=True))
    return replace(
        markup, edges=tuple(replace(edge, flow=other[edge.flow]) for edge in markup.edges)
    )


def pinched(markup: Markup) -> Markup:
    """Return the drawing with the highest edges drawn 14 m inwards along 150 m of river."""
    line, high = markup.main.line, max(edge.flow for edge in markup.edges)
    near = shapely.ops.substring(line, 350.0, 500.0).buffer(120, cap_style="flat")

    def inwards(places: np.ndarray) -> np.ndarray:
        points = shapely.points(places)
        here = shapely.contains(near, points)
        station = line.project(points)
        foot = shapely.get_coordinates(line.interpolate(station))
        way = foot - places
        return places + np.where(here[:, None], 14 * way / np.hypot(*way.T)[:, None], 0.0)

    return replace(
        markup,
        edges=tuple(
            replace(edge, shape=shapely.transform(edge.shape, inwards)) if edge.flow == high
            else edge
            for edge in markup.edges
        ),
    )  # fmt: skip


def decked(one: Honest, half_length: float, rise: float = 6.0) -> Dem:
    """Return the DEM with a wall across the river, half-way down."""
    from reachmap.ground.raster import grid_of

    cell = SETTINGS["cell"]
    grid = grid_of(one.markup, cell, 30.0)
    x, y = np.meshgrid(grid.x, grid.y)
    station, offset = one.river.line.to_station_offset(x.ravel(), y.ravel())
    middle = one.river.line.length / 2
    on = (np.abs(station - middle) < half_length) & (np.abs(offset) < 80)
    level = np.interp(middle, one.river.line.station, one.river.section_level(0.75 * one.low))
    height = one.dem.height.copy()
    flat = height.ravel()
    flat[on] = np.fmax(flat[on], level + rise)
    return replace(one.dem, height=flat.reshape(height.shape).astype(np.float32))


def slips() -> Mapping[str, Slip]:
    """Return the planted slips by name; None where a river has not what the slip needs."""

    def drawn(change: Callable[[Markup], Markup], *, edges: bool = False) -> Slip:
        return lambda one: None if edges and not one.markup.edges else (change(one.markup), one.dem)

    def bare(change: Callable[[Markup], Markup], *, edges: bool = False) -> Slip:
        return lambda one: None if edges and not one.markup.edges else (change(one.markup), None)

    def unsaid(one: Honest) -> Markup:
        return replace(one.markup, plan=replace(one.markup.plan, slope=np.nan))

    return {
        "honest": drawn(lambda markup: markup),
        "honest, no DEM": bare(lambda markup: markup),
        "soundings: feet as metres": drawn(soundings_times(1 / FOOT_M)),
        "soundings: metres as feet": drawn(soundings_times(FOOT_M)),
        "soundings: feet as metres, no DEM": bare(soundings_times(1 / FOOT_M)),
        "soundings: metres as feet, no DEM": bare(soundings_times(FOOT_M)),
        "traced flow 3 times": drawn(traced_times(3)),
        "traced flow a third": drawn(traced_times(1 / 3)),
        "traced flow 3 times, no DEM": bare(traced_times(3), edges=True),
        "traced flow a third, no DEM": bare(traced_times(1 / 3), edges=True),
        "[dem] flow 3 times": lambda one: (one.markup, replace(one.dem, flow=3 * one.dem.flow)),
        "[dem] flow a third": lambda one: (one.markup, replace(one.dem, flow=one.dem.flow / 3)),
        "edges swapped": drawn(swapped, edges=True),
        "edges swapped, no DEM": bare(swapped, edges=True),
        "edges pinched over 150 m": drawn(pinched, edges=True),
        "deck of 8 m": lambda one: (one.markup, decked(one, 4.0)),
        "dam of 100 m": lambda one: (one.markup, decked(one, 50.0)),
        "DEM in feet, slope given": lambda one: (one.markup, feet(one.dem)),
        "DEM in feet, edges": lambda one: (
            (unsaid(one), feet(one.dem)) if one.markup.edges else None
        ),
    }


def feet(dem: Dem) -> Dem:
    """Return a DEM with its heights in feet read as metres."""
    return replace(dem, height=(dem.height / FOOT_M).astype(np.float32))


def spoken(markup: Markup, dem: Dem | None) -> Iterator[str]:
    """Yield what the checks say: "stop", "warning" and "note", once for each."""
    try:
        ground = build_ground(markup, dem, GroundSettings(cell=SETTINGS["cell"]))
    except ReachmapError:
        yield "stop"
        return
    notes = str(ground.attrs["notes"]).splitlines()
    for word, begin in (("warning", DISAGREES), ("note", UNLIKELY)):
        if any(note.startswith(begin) for note in notes):
            yield word


SETTINGS = {"cell": 2.0}


def main() -> None:
    """Print for each slip on how many rivers a build stopped, was warned of, or noted it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=40)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--cell", type=float, default=2.0)
    asked.add_argument("--only", default="", help="slips whose name holds this text")
    given = asked.parse_args()
    SETTINGS["cell"] = given.cell
    chosen = {name: slip for name, slip in slips().items() if given.only in name}
    counts: dict[str, Counter[str]] = {name: Counter() for name in chosen}
    for seed in range(given.first, given.first + given.seeds):
        one = honest(seed, given.cell)
        for name, slip in chosen.items():
            made = slip(one)
            if made is not None:
                said = list(spoken(*made))
                counts[name].update([*said, "rivers", *([] if said else [f"silent: {seed}"])])
    for name, count in counts.items():
        silent = [key.removeprefix("silent: ") for key in count if key.startswith("silent")]
        print(
            f"{name:36s} rivers {count['rivers']:3d}  stop {count['stop']:3d}  "
            f"warning {count['warning']:3d}  note {count['note']:3d}  silent {len(silent):3d}  "
            f"{','.join(silent) if 'honest' not in name else ''}",
            flush=True,
        )


if __name__ == "__main__":
    main()
