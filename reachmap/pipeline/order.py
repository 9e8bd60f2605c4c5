"""The order of the stages: each takes the results before it, and is stored under its own key."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap import angler, flow, water
from reachmap.base.disk import room_on_disk
from reachmap.base.errors import BuildError, MarkupError
from reachmap.base.fingerprint import stage_key
from reachmap.base.generation import CACHE
from reachmap.base.schema import as_promised, layer_frame
from reachmap.base.units import flow_label
from reachmap.base.writer import one_writer
from reachmap.markup.check_gauge import flow_faults
from reachmap.markup.model import Markup
from reachmap.outputs.choices import Choices
from reachmap.outputs.product import Product
from reachmap.outputs.write import WRITERS, write_all
from reachmap.pipeline.ensemble import Ensemble, doubt_report, ensemble_of
from reachmap.pipeline.fitted import Kept, read_fitted
from reachmap.pipeline.logged import read_log, with_log
from reachmap.pipeline.place import other_caches
from reachmap.pipeline.reading import read_flows, reading_tasks
from reachmap.pipeline.report import make_report, run_tables
from reachmap.pipeline.running import COMPILING, mapper_for, must_compile
from reachmap.pipeline.settings import Settings, settings_for
from reachmap.pipeline.stamp import Options, build_stamp
from reachmap.pipeline.store import Store
from reachmap.pipeline.terrain import make_terrain, terrain_key
from reachmap.uncertainty import asks_layer, sure_water

if TYPE_CHECKING:
    from reachmap.flow.engine.pieces import Mapper

Told = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Built:
    """What a build made: folder, page to open, report, and which stages were made afresh."""

    folder: Path
    page: Path
    report: Mapping[str, Any]
    fresh: tuple[str, ...]


def build_reach(
    reach: Markup,
    out: Path,
    options: Options,
    *,
    told: Told = lambda *_: None,
    workers: int = 1,
    scheduler: str = "",
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
    scheduler
        Address of a Dask scheduler that works out the flows; empty for this machine.

    Raises
    ------
    HeldError
        If another program writes into the folder.
    DiskFullError
        If the disk is full; the folder is then as it was.
    """
    job = _begun(reach, out, options, told, workers, scheduler)
    with one_writer(out, "a build", waiting=job.steps.also), room_on_disk(out):
        product = _product(job, options)
        chosen = Choices(tile_url=options.tiles, long_names=options.long_names)
        written = write_all(
            product, out, told=lambda name: job.steps.begin(f"writing {name}"), chosen=chosen
        )
        job.store.drop_old()
    job.steps.begin("done")
    return Built(out, out / "maps" / "index.html", written, tuple(job.store.fresh))


def make_product(
    reach: Markup, out: Path, options: Options, *, told: Told = lambda *_: None, workers: int = 1
) -> Product:
    """Return what `build_reach` writes, without writing it; every stage goes through the cache."""
    job = _begun(reach, out, options, told, workers)
    with one_writer(out, "a reading of the build", waiting=job.steps.also), room_on_disk(out):
        return _product(job, options)


def _begun(
    reach: Markup, out: Path, options: Options, told: Told, workers: int, scheduler: str = ""
) -> _Job:
    """Return a build about to begin, its flows checked."""
    faults = flow_faults(
        options.flows or (), reach.gauge, reach.plan.units, where="flows asked for"
    )
    if faults:
        raise MarkupError(faults)
    settings = settings_for(reach, options)
    steps = _Steps(told, total=len(settings.flows) + len(WRITERS) + 6)
    mapper = mapper_for(scheduler, settings.flow)
    store = Store(out / CACHE, other_caches(reach.folder, out))
    return _Job(reach, settings, store, steps, workers, mapper)


def _product(job: _Job, options: Options) -> Product:
    """Return the built reach, every stage taken from the cache where it is stored."""
    reach, settings = job.reach, job.settings
    kept = read_fitted(reach.folder)
    terrain, ground_key = _ground(job, kept)
    flowing, flow_keys = _flows(job, terrain, ground_key, job.settings.flows)
    job.steps.begin("how sure it is")
    ensemble = ensemble_of(reach, terrain, (flowing, flow_keys), settings, job.store, kept)
    then = _terrain_day(job, terrain, ground_key)
    read = _layers(job, terrain, (flowing, flow_keys), ensemble, then)
    job.steps.begin("following the runs")
    layers, table = _with_runs(read, reach, terrain, flowing, settings)
    layers["asks"] = asks_layer(terrain, flowing, ensemble.doubt, reach, settings.ground)
    report = make_report(reach, terrain, flowing, layers, settings, job.store)
    report |= doubt_report(report, ensemble, kept, str(flowing.attrs["method"]))
    report |= run_tables(reach, layers, table, settings)
    entries = read_log(reach.folder, wanted=options.log)
    drawn = [run.name for run in reach.runs]
    report, trips = with_log(report, entries, layers["runs"], flowing, drawn)
    if reach.folder is not None:
        report["stamp"] = build_stamp(reach.folder, options)
    report["options"] = asdict(options)
    return Product(
        reach,
        terrain,
        flowing,
        layers,
        report,
        preview=options.quick,
        runs=table,
        doubt=ensemble.doubt,
        log=trips,
    )


class _Steps:
    """Counts the steps of a build and tells of each."""

    def __init__(self, told: Told, total: int) -> None:
        """Begin at none of `total`."""
        self.told, self.total, self.done = told, total, -1

    def begin(self, name: str) -> None:
        """Tell that a step begins, and so that the one before it is done."""
        self.done = min(self.done + 1, self.total)
        self.told(name, self.done, self.total)

    def also(self, name: str) -> None:
        """Tell what the step under way has to do besides."""
        self.told(name, max(self.done, 0), self.total)


@dataclass(frozen=True, slots=True)
class _Job:
    """One build: what is built, how, where results are kept, who is told, who works."""

    reach: Markup
    settings: Settings
    store: Store
    steps: _Steps
    workers: int
    mapper: Mapper | None


def _ground(job: _Job, kept: Kept | None) -> tuple[xr.Dataset, str]:
    """Return the ground and its key."""
    reach, settings = job.reach, job.settings.ground
    key = terrain_key(reach, settings, kept)
    job.steps.begin("the ground")
    return job.store.dataset("ground", key, partial(make_terrain, reach, settings, kept)), key


def _flows(
    job: _Job, terrain: xr.Dataset, ground_key: str, values: tuple[float, ...]
) -> tuple[xr.Dataset, tuple[str, ...]]:
    """Return the flow field of every flow and the key of each; only missing ones are worked out."""
    settings, store = job.settings, job.store
    # the units only name the flows: a change of them works nothing out anew
    numbers = {name: one for name, one in asdict(settings.flow).items() if name != "units"}
    keys = tuple(
        stage_key(
            "flow",
            flow.VERSION,
            numbers,
            {"ground": ground_key, "flow": value.hex()},
        )
        for value in values
    )
    job.steps.begin(f"{len(keys)} flows" if len(keys) > 1 else "the flow")
    missing = [q for q, key in zip(values, keys, strict=True) if not store.has("flow", key)]
    made = None
    if missing:
        if job.mapper is None and must_compile(settings.flow):
            job.steps.also(COMPILING)
        run = partial(flow.solve, terrain, missing, settings.flow, mapper=job.mapper)
        made = store.timed("flow", run)
    parts = []
    for value, key in zip(values, keys, strict=True):
        label = flow_label(value, settings.flow.units)
        one = store.dataset(f"flow {label}", key, partial(_one_flow, made, missing, value))
        parts.append(one.assign_coords(asked=("flow", [label])))  # as these units call it
    return _stacked(parts), keys


def _terrain_day(job: _Job, terrain: xr.Dataset, ground_key: str) -> tuple[xr.Dataset, str] | None:
    """Return the river at the flow of the terrain model's day, and its key; None without a model.

    What this wets cannot have been seen dry. Where that flow cannot be solved the lowest mapped
    flow takes its place: it wets more, and so leaves more unknown.
    """
    if terrain.attrs["vertical"] != "dem":
        return None
    for value in (float(terrain.attrs["low_flow"]), job.settings.flows[0]):
        try:
            day, keys = _flows(job, terrain, ground_key, (value,))
        except BuildError:
            continue
        return day, keys[0]
    return None


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
    job: _Job,
    terrain: xr.Dataset,
    flows: tuple[xr.Dataset, Sequence[str]],
    ensemble: Ensemble,
    then: tuple[xr.Dataset, str] | None,
) -> dict[str, gpd.GeoDataFrame]:
    """Return every layer of one flow, stacked over all flows."""
    flowing, flow_keys = flows
    found: dict[str, list[gpd.GeoDataFrame]] = {}
    job.steps.begin("reading the water")
    tasks = list(reading_tasks(job.reach, flowing, flow_keys, job.settings, job.store, then=then))
    read = read_flows(job.reach, terrain, tasks, job.settings, job.store, workers=job.workers)
    for label, layers in read:
        job.steps.begin(f"water and wading read, {label}")
        for name, frame in layers.items():
            found.setdefault(name, []).append(frame)
    layers = {name: _joined(name, frames, job.reach.crs) for name, frames in found.items()}
    if ensemble.doubt is not None and job.settings.doubt is not None:
        width = float(np.nanmedian(terrain["line_width"]))
        layers["water"] = sure_water(
            layers["water"], flowing, ensemble.doubt, width, job.settings.doubt
        )
    return layers


def _joined(name: str, frames: Sequence[gpd.GeoDataFrame], crs: str) -> gpd.GeoDataFrame:
    """Return one layer over all flows; an empty one keeps its columns."""
    full = [frame for frame in frames if len(frame)]
    if not full:
        return layer_frame(name, [], crs)
    whole = gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)
    return as_promised(name, whole)


def _with_runs(
    layers: dict[str, gpd.GeoDataFrame],
    reach: Markup,
    terrain: xr.Dataset,
    flowing: xr.Dataset,
    settings: Settings,
) -> tuple[dict[str, gpd.GeoDataFrame], pd.DataFrame]:
    """Return the layers with runs and channels followed over the flows, and the table of runs."""
    width = float(np.nanmedian(terrain["line_width"]))
    layers = water.lasting_codes(layers, width)
    followed, runs = water.follow_runs(layers["water"], terrain, reach.runs, settings.water)
    fishable = angler.fishable_runs(followed, layers["stations"])
    table = water.runs_by_flow(followed, runs, flowing, settings.water, fishable=fishable)
    runs, table = angler.pace_runs(runs, table, followed, layers["stations"], settings.angler)
    followed, table = angler.with_wading(followed, table, layers["stations"])
    channels = water.follow_channels(layers["channels"], width)
    rise = settings.angler.hazards.more_water_m
    home = angler.ways_back(terrain, flowing, layers, rise_m=rise)
    runs = angler.runs_with_hazards(runs, followed, home["stations"], layers["hazards_near"])
    return {**layers, **home, "water": followed, "runs": runs, "channels": channels}, table
