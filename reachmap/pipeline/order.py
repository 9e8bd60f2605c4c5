"""The order of the stages: each takes the results before it, and is stored under its own key."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap import angler, flow, ground, water
from reachmap.base.errors import MarkupError
from reachmap.base.stamp import stage_key
from reachmap.base.tables import layer_frame
from reachmap.base.units import flow_label
from reachmap.markup.check_gauge import flow_faults
from reachmap.markup.model import Markup
from reachmap.outputs.product import Product
from reachmap.outputs.write import WRITERS, write_all
from reachmap.pipeline.keys import fingerprint
from reachmap.pipeline.reading import read_flows, reading_tasks
from reachmap.pipeline.report import make_report, run_tables
from reachmap.pipeline.settings import Settings, settings_for
from reachmap.pipeline.stamp import Options, build_stamp, written_folder
from reachmap.pipeline.store import Store

Told = Callable[[str, int, int], None]

CACHE = "cache"


@dataclass(frozen=True, slots=True)
class Built:
    """What a build made: folder, page to open, report, and which stages were made afresh."""

    folder: Path
    page: Path
    report: Mapping[str, Any]
    fresh: tuple[str, ...]


def build(
    reach: Markup,
    *,
    flows: Sequence[float] | None = None,
    out: Path | None = None,
    cell: float = 2.0,
    quick: bool = False,
    season: str | None = None,
) -> Built:
    """Work out every flow of a reach and write maps, GPS and GIS files.

    Parameters
    ----------
    reach
        As `reachmap.open_reach` returned it.
    flows
        Discharges [m3/s] instead of those of reach.toml.
    out
        Folder to write into; `written` in the reach folder if not given.
    cell
        Side of a raster cell [m]: 1, 2 or 4.
    quick
        Whether to stay with the one-dimensional preview.
    season
        "winter" or "summer" instead of that of reach.toml.

    Raises
    ------
    ReachmapError
        If the angler can mend it; nothing half-written stays.
    ValueError
        If the reach was not read from a folder and no `out` is given.
    """
    asked = None if flows is None else tuple(sorted({float(value) for value in flows}))
    options = Options(flows=asked, cell=cell, quick=quick, season=season)
    if reach.folder is None and out is None:
        msg = "the reach was not read from a folder: name one to write into"
        raise ValueError(msg)
    return build_reach(reach, written_folder(reach.folder or Path(), out), options)


def build_reach(
    reach: Markup,
    out: Path,
    options: Options,
    *,
    told: Told = lambda *_: None,
    workers: int = 1,
) -> Built:
    """Build a reach into a folder.

    Parameters
    ----------
    reach, out, options
        What to build, where to and how.
    told
        Hears of each step, how many are done and of how many.
    workers
        Processes that may read flows side by side; a script that gives more than 1 must be
        importable without building (`if __name__ == "__main__"`).
    """
    faults = flow_faults(
        options.flows or (), reach.gauge, reach.plan.units, where="flows asked for"
    )
    if faults:
        raise MarkupError(faults)
    settings = settings_for(reach, options)
    steps = _Steps(told, total=len(settings.flows) + len(WRITERS) + 5)
    job = _Job(reach, settings, Store(out / CACHE), steps, workers)
    terrain, terrain_key = _ground(job)
    flowing, flow_keys = _flows(job, terrain, terrain_key)
    read = _layers(job, terrain, flowing, flow_keys)
    steps.begin("following the runs")
    layers, table = _with_runs(read, reach, terrain, flowing, settings)
    report = make_report(reach, terrain, flowing, layers, settings, job.store)
    report |= run_tables(reach, layers, table, settings)
    if reach.folder is not None:
        report["stamp"] = build_stamp(reach.folder, options)
    product = Product(reach, terrain, flowing, layers, report, preview=options.quick)
    written = write_all(product, out, told=lambda name: steps.begin(f"writing {name}"))
    job.store.drop_old()
    steps.begin("done")
    return Built(out, out / "maps" / "index.html", written, tuple(job.store.fresh))


class _Steps:
    """Counts the steps of a build and tells of each."""

    def __init__(self, told: Told, total: int) -> None:
        """Begin at none of `total`."""
        self.told, self.total, self.done = told, total, -1

    def begin(self, name: str) -> None:
        """Tell that a step begins, and so that the one before it is done."""
        self.done = min(self.done + 1, self.total)
        self.told(name, self.done, self.total)


@dataclass(frozen=True, slots=True)
class _Job:
    """One build: what is built, how, where results are kept, who is told, how many may work."""

    reach: Markup
    settings: Settings
    store: Store
    steps: _Steps
    workers: int


def _ground(job: _Job) -> tuple[xr.Dataset, str]:
    """Return the ground and its key."""
    reach, plan, settings = job.reach, job.reach.plan, job.settings
    drawn = fingerprint(
        reach.crs, reach.rivers, reach.banks, reach.edges, reach.soundings, reach.levels,
        reach.trees, reach.rocks, plan.slope, plan.traced_flow, plan.dem, reach.gauge,
    )  # fmt: skip
    tiles = {path.name: reach.digests[_digest_name(reach, path)] for path in reach.dems}
    key = stage_key("ground", ground.VERSION, asdict(settings.ground), {"drawn": drawn, **tiles})
    job.steps.begin("the ground")
    return job.store.dataset("ground", key, partial(_make_ground, reach, settings)), key


def _digest_name(reach: Markup, path: Path) -> str:
    """Return the name under which a file's digest is kept."""
    folder = reach.folder
    return path.relative_to(folder).as_posix() if folder is not None else path.name


def _make_ground(reach: Markup, settings: Settings) -> xr.Dataset:
    """Read the DEM, if there is one, and make the ground."""
    frame = ground.frame_of(reach, settings.ground.cell, settings.ground.margin_m)
    dem = ground.read_dem(reach.dems, frame, reach.plan.dem) if reach.dems else None
    return ground.build_ground(reach, dem, settings.ground)


def _flows(job: _Job, terrain: xr.Dataset, terrain_key: str) -> tuple[xr.Dataset, tuple[str, ...]]:
    """Return the flow field of every flow and the key of each; only missing ones are worked out."""
    settings, store = job.settings, job.store
    keys = tuple(
        stage_key(
            "flow",
            flow.VERSION,
            asdict(settings.flow),
            {"ground": terrain_key, "flow": value.hex()},
        )
        for value in settings.flows
    )
    job.steps.begin(f"{len(keys)} flows" if len(keys) > 1 else "the flow")
    missing = [q for q, key in zip(settings.flows, keys, strict=True) if not store.has("flow", key)]
    made = (
        store.timed("flow", partial(flow.solve, terrain, missing, settings.flow))
        if missing
        else None
    )
    parts = []
    for value, key in zip(settings.flows, keys, strict=True):
        label = flow_label(value, settings.flow.units)
        parts.append(store.dataset(f"flow {label}", key, partial(_one_flow, made, missing, value)))
    return _stacked(parts), keys


def _one_flow(made: xr.Dataset | None, missing: Sequence[float], value: float) -> xr.Dataset:
    """Return one flow out of those just worked out, with its own notes only."""
    if made is None:
        msg = f"flow {value:g} was found stored, then not"
        raise RuntimeError(msg)
    one = made.isel(flow=[list(missing).index(value)])
    others = tuple(f"{label}:" for label in made["asked"].to_numpy() if label != one["asked"][0])
    notes = str(made.attrs.get("notes", "")).splitlines()
    return one.assign_attrs(notes="\n".join(n for n in notes if not n.startswith(others)))


def _stacked(parts: Sequence[xr.Dataset]) -> xr.Dataset:
    """Return single flows as one Dataset, notes of all kept once."""
    whole = xr.concat(parts, dim="flow", combine_attrs="override", join="override")
    notes = dict.fromkeys(
        note for part in parts for note in str(part.attrs.get("notes", "")).splitlines() if note
    )
    whole.attrs["notes"] = "\n".join(notes)
    return whole


def _layers(
    job: _Job, terrain: xr.Dataset, flowing: xr.Dataset, flow_keys: Sequence[str]
) -> dict[str, gpd.GeoDataFrame]:
    """Return every layer of one flow, stacked over all flows."""
    found: dict[str, list[gpd.GeoDataFrame]] = {}
    job.steps.begin("reading the water")
    tasks = list(reading_tasks(job.reach, flowing, flow_keys, job.settings, job.store))
    read = read_flows(job.reach, terrain, tasks, job.settings, job.store, workers=job.workers)
    for label, layers in read:
        job.steps.begin(f"water and wading read, {label}")
        for name, frame in layers.items():
            found.setdefault(name, []).append(frame)
    return {name: _joined(name, frames, job.reach.crs) for name, frames in found.items()}


def _joined(name: str, frames: Sequence[gpd.GeoDataFrame], crs: str) -> gpd.GeoDataFrame:
    """Return one layer over all flows; an empty one keeps its columns."""
    full = [frame for frame in frames if len(frame)]
    if not full:
        return layer_frame(name, [], crs)
    return gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)


def _with_runs(
    layers: dict[str, gpd.GeoDataFrame],
    reach: Markup,
    terrain: xr.Dataset,
    flowing: xr.Dataset,
    settings: Settings,
) -> tuple[dict[str, gpd.GeoDataFrame], pd.DataFrame]:
    """Return the layers with runs and channels followed over the flows, and the table of runs."""
    followed, runs = water.follow_runs(layers["water"], terrain, reach.runs, settings.water)
    table = water.runs_by_flow(followed, runs, flowing, settings.water)
    runs = angler.pace_runs(
        water.told_runs(runs, table), followed, layers["stations"], settings.angler
    )
    width = float(np.nanmedian(terrain["line_width"]))
    channels = water.follow_channels(layers["channels"], width)
    home = angler.ways_back(terrain, flowing, layers, reach.plan.units)
    return {**layers, **home, "water": followed, "runs": runs, "channels": channels}, table
