"""Count the cards that change when something changes elsewhere: python -m scripts.measure_rebuild.

The sample is mapped by the engine (`--quick`: by the preview) on cells of 4 m, without an ensemble,
and again with a bed 7 % rougher, with one mapped flow replaced, and with one sounding more. A card,
one piece of water at one flow, is the same if a piece with its code and the name of its run has
nearly all of its area in common. Told for the flows that both maps show: cards, those whose place
bears another run's name, those with another code, those whose outline moved, and how far along the
river from where the sounding was made the farthest of these lies. What the angler does there is not
looked at.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

import reachmap
from reachmap.base.centreline import Centreline
from reachmap.base.units import to_si
from reachmap.flow.notes import repacked
from reachmap.markup.model import Markup, Sounding
from reachmap.pipeline.order import begin_job
from reachmap.pipeline.settings import Settings, settings_for
from reachmap.pipeline.solving import solve_reach
from reachmap.pipeline.stamp import Options
from reachmap.water import bends_of, follow_runs, read_water, seams_that_last

SAMPLE = Path(__file__).resolve().parent.parent / "data_samples" / "madeup_river"
FLOWS_CFS = (900, 1800, 2400, 4200)
OTHER_CFS = (900, 1800, 2600, 4200)
ROUGHER = 1.07
SOUNDED_M, DEEPER_M = 1300.0, 0.4
"""Where the new sounding is made along the river, and by how much it is deeper than mapped [m]."""
SAME_SHARE = 0.99
"""Share of the area of both that is in common in an outline that has not moved."""

Change = Callable[[Settings], Settings]


@dataclass(frozen=True, slots=True)
class Mapped:
    """A mapped river: its ground, and its pieces of water at the flows shown."""

    ground: xr.Dataset
    water: gpd.GeoDataFrame


@dataclass(frozen=True, slots=True)
class Count:
    """Of the cards: how many there are, what changed, and the stations of what changed [m]."""

    cards: int
    renamed: int
    recoded: int
    moved: int
    stations: tuple[float, ...]


def mapped(
    reach: Markup,
    flows_cfs: tuple[float, ...],
    change: Change = lambda usual: usual,
    *,
    quick: bool = False,
) -> Mapped:
    """Return the water of the reach mapped anew, nothing kept from before."""
    flows = tuple(to_si(float(one), "cfs") for one in flows_cfs)
    options = Options(flows=flows, cell=4.0, quick=quick, ensemble=False)
    settings = change(settings_for(reach, options))
    with tempfile.TemporaryDirectory() as out:
        solved = solve_reach(begin_job(reach, Path(out), options, settings=settings))
    flowing, bends = solved.rungs.flow, bends_of(solved.ground, settings.water.bends)
    found: dict[str, list[gpd.GeoDataFrame]] = {"water": [], "seams": []}
    for number, label in enumerate(solved.rungs.labels):
        one = repacked(flowing.isel(flow=[number]))
        layers = read_water(solved.ground, one, settings.water, bends=bends).layers
        for name, frames in found.items():
            frames.append(layers[name].assign(flow_label=label))
    stacked = {name: pd.concat(frames, ignore_index=True) for name, frames in found.items()}
    kept = seams_that_last(stacked, flowing["flow"].to_numpy().tolist(), settings.water)
    pieces, _ = follow_runs(kept["water"], solved.ground, reach.runs, settings.water)
    shown = set(solved.rungs.shown(settings.flows)["asked"].to_numpy().tolist())
    return Mapped(solved.ground, pieces[pieces["flow_label"].isin(shown)])


def rougher(usual: Settings) -> Settings:
    """Return settings with a rougher bed."""
    n = usual.ground.channel_roughness * ROUGHER
    return replace(usual, ground=replace(usual.ground, channel_roughness=n))


def sounded(reach: Markup, start: Mapped) -> Markup:
    """Return the drawing with one more sounding, in the middle of the river."""
    line = Centreline.of(start.ground)
    x, y = line.from_station_offset(np.array([SOUNDED_M]), np.zeros(1))
    near = start.ground.sel(x=float(x[0]), y=float(y[0]), method="nearest")
    place = gpd.points_from_xy(x, y)[0]
    one = Sounding("new", place, float("nan"), float("nan"), float(near["bed"]) - DEEPER_M)
    return replace(reach, soundings=(*reach.soundings, one))


def compared(before: Mapped, after: Mapped) -> Count:
    """Return what changed of the cards of the flows that both show."""
    old, new = before.water, after.water
    both = sorted({*old["flow_label"]} & {*new["flow_label"]})
    cards = renamed = recoded = moved = 0
    stations: list[float] = []
    for label in both:
        there = new[new["flow_label"] == label]
        for one in old[old["flow_label"] == label].itertuples():
            cards += 1
            common = there.geometry.intersection(one.geometry).area
            whole = there.geometry.union(one.geometry).area
            best = int(np.argmax(common)) if len(there) else 0
            found = there.iloc[best] if len(there) and common.iloc[best] > 0 else None
            most = found is not None and common.iloc[best] > 0.5 * one.geometry.area
            named = most and found["run"] != one.run
            coded = found is None or found["code"] != one.code
            shifted = found is None or common.iloc[best] < SAME_SHARE * whole.iloc[best]
            renamed, recoded, moved = (
                renamed + int(named),
                recoded + int(coded),
                moved + int(shifted),
            )
            if named or coded or shifted:
                stations.append(0.5 * (one.station_m + one.station_end_m))
    return Count(cards, renamed, recoded, moved, tuple(stations))


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="the preview in place of the engine")
    made = partial(mapped, quick=parser.parse_args().quick)
    reach = reachmap.open_reach(SAMPLE).drawing
    start = made(reach, FLOWS_CFS)
    print("| change | cards | another run's name | another code | outline moved | farthest |")
    print("|---|---|---|---|---|---|", flush=True)
    changes = {
        "nothing": lambda: made(reach, FLOWS_CFS),
        "a bed 7 % rougher": lambda: made(reach, FLOWS_CFS, rougher),
        "2,400 cfs replaced by 2,600": lambda: made(reach, OTHER_CFS),
        "one sounding more": lambda: made(sounded(reach, start), FLOWS_CFS),
    }
    for name, make in changes.items():
        got = compared(start, make())
        away = [abs(station - SOUNDED_M) for station in got.stations]
        far = f"{max(away):.0f} m" if away else "-"
        told = (got.cards, got.renamed, got.recoded, got.moved, far)
        print(f"| {name} | {' | '.join(map(str, told))} |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
