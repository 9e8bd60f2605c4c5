"""The order of the stages: each takes the results before it, and is stored under its own key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import xarray as xr

from reachmap.base.digests import fingerprint
from reachmap.base.disk import room_on_disk
from reachmap.base.errors import MarkupError
from reachmap.base.generation import CACHE
from reachmap.base.progress import Progress
from reachmap.base.writer import one_writer
from reachmap.flow.notes import packed_flows
from reachmap.markup.check_gauge import flow_faults
from reachmap.markup.model import Markup
from reachmap.outputs.choices import Choices
from reachmap.outputs.day_list import day_list
from reachmap.outputs.product import Ladder, Product
from reachmap.outputs.write import WRITERS, write_all
from reachmap.outputs.zarr_fields import refuse_without_zarr
from reachmap.pipeline.ensemble import uncertainty_report
from reachmap.pipeline.following import follow_all
from reachmap.pipeline.logged import read_log, with_log
from reachmap.pipeline.noted import entries_of, evidence_facts, evidence_report, noted_reach
from reachmap.pipeline.place import PAGE, other_caches
from reachmap.pipeline.product_keys import product_keys
from reachmap.pipeline.readers import Readers
from reachmap.pipeline.readings import Readings, read_all
from reachmap.pipeline.report import make_report, run_tables
from reachmap.pipeline.run_names import keep_names, names_before
from reachmap.pipeline.running import mapper_for
from reachmap.pipeline.settings import Settings, settings_for
from reachmap.pipeline.solving import Job, Solved, Steps, solve_reach
from reachmap.pipeline.stamp import Options, build_stamp
from reachmap.pipeline.store import Store
from reachmap.text.whom import list_for_words


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
    progress: Progress = lambda *_: None,
    workers: int = 1,
    scheduler: str = "",
    settings: Settings | None = None,
) -> Built:
    """Build a reach into a folder.

    Parameters
    ----------
    reach, out, options
        What to build, where to and how.
    progress
        Progress callback (step, done, total).
    workers
        Processes that may read flows side by side; a script that gives more than 1 must be
        importable without building (`if __name__ == "__main__"`).
    scheduler
        Address of a Dask scheduler that works out the flows; empty for this machine.
    settings
        What the options come to, where that is known already.

    Raises
    ------
    HeldError
        If another program writes into the folder.
    DiskFullError
        If the disk is full; the folder is then as it was.
    """
    job = begin_job(reach, out, options, progress, workers, scheduler, settings=settings)
    with one_writer(out, "a build", waiting=job.steps.also), room_on_disk(out):
        product = read_solved(job, options, solve_reach(job))
        written = _write(product, out, options, job.steps)
        job.store.drop_old()
    job.steps.finish()
    return Built(out, out / PAGE, written, tuple(job.store.fresh))


def write_product(
    *,
    product: Product,
    out: Path,
    options: Options,
    fresh: tuple[str, ...] = (),
    progress: Progress = lambda *_: None,
) -> Built:
    """Write what `make_product` returned into a folder, as `build_reach` would.

    Parameters
    ----------
    product, out, options
        What to write, where to and how.
    fresh
        Stages that were made anew for it.
    progress
        Progress callback (step, done, total).

    Raises
    ------
    DiskFullError, InUseError, HeldError
        As for `outputs.write.write_all`.
    """
    steps = Steps(progress, total=len(WRITERS))
    written = _write(product, out, options, steps)
    steps.finish()
    return Built(out, out / PAGE, written, fresh)


def _write(product: Product, out: Path, options: Options, steps: Steps) -> Mapping[str, Any]:
    """Write every output and return the report."""
    chosen = Choices(
        tile_url=options.tiles,
        long_names=options.long_names,
        site=options.site,
        zarr=options.zarr,
    )
    return write_all(
        product,
        out,
        progress=lambda name: steps.begin(f"writing {name}"),
        chosen=chosen,
        seconds=steps.elapsed,
    )


def make_product(
    reach: Markup,
    out: Path,
    options: Options,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> Product:
    """Return what `build_reach` writes, without writing it; every stage goes through the cache."""
    job = begin_job(reach, out, options, progress, workers)
    with one_writer(out, "a reading of the build", waiting=job.steps.also), room_on_disk(out):
        return read_solved(job, options, solve_reach(job))


def begin_job(
    reach: Markup,
    out: Path,
    options: Options,
    progress: Progress = lambda *_: None,
    workers: int = 1,
    scheduler: str = "",
    *,
    settings: Settings | None = None,
) -> Job:
    """Return a build about to begin, its flows checked; its settings if they are made already."""
    faults = flow_faults(
        options.flows or (), reach.gauge, reach.plan.units, where="flows asked for"
    )
    if faults:
        raise MarkupError(faults)
    if options.zarr:
        refuse_without_zarr()
    if settings is None:
        settings = settings_for(reach, options)
    steps = Steps(progress, total=len(settings.rungs) + len(WRITERS) + 6)
    mapper = mapper_for(scheduler, settings.flow)
    store = Store(out / CACHE, other_caches(reach.folder, out))
    return Job(reach, noted_reach(reach), settings, store, steps, Readers(workers), mapper)


def read_solved(job: Job, options: Options, solved: Solved) -> Product:
    """Return the mapped reach: water and angler read at each flow, runs followed over all."""
    return follow_read(job, options, solved, read_all(job, solved))


def follow_read(
    job: Job, options: Options, solved: Solved, readings: Readings, *, only: str | None = None
) -> Product:
    """Return the mapped reach, runs and ways back followed over what was read at each flow.

    Parameters
    ----------
    job, options, solved, readings
        What is mapped, how, its stages so far, and what was read at every rung.
    only
        Name of the one rung whose ways back are followed, where the others' are; None for all.

    Notes
    -----
    Every rung of the ladder is read, and runs and ways back are followed over all of them; what is
    shown are the flows asked for.
    """
    reach, settings = job.reach, job.settings
    terrain, ensemble = solved.ground, solved.ensemble
    job.steps.begin("following the runs")
    folders = (job.store.folder, *job.store.others)
    names = names_before(folders, terrain, reach.crs, settings.water)
    entries = read_log(reach.folder, wanted=options.log)
    followed = follow_all(job, solved, readings, names, entries, only)
    every, table = followed.layers, followed.table
    keep_names(job.store.folder, every["runs"], terrain, reach.crs, settings.water)
    every["asks"] = readings.suggestions
    rasters = partial(_rasters, job.store, solved)
    climbed = Ladder(solved.rungs.labels, tuple(settings.rungs), every, rasters)
    flowing, layers = solved.rungs.shown(settings.flows), climbed.layers_at(settings.flows)
    uncertainty = _shown_uncertainty(job.store, solved, flowing)
    report = make_report(job.noted, terrain, flowing, layers, settings, solved, job.store.seconds)
    method = str(flowing.attrs["method"])
    report |= uncertainty_report(report, uncertainty, ensemble, solved.kept, method)
    report |= run_tables(table, followed.cards, settings, reach.plan.units)
    facts = evidence_facts(terrain, job.noted, entries_of(reach), solved.kept)
    report["evidence"] = evidence_report(facts, reach)
    drawn, weight = [run.name for run in reach.runs], reach.plan.outing.log_weight
    report, trips = with_log(report, entries, layers["runs"], flowing, drawn, weight)
    if reach.folder is not None:
        report["stamp"] = build_stamp(reach.folder, options)
    report["options"] = asdict(options)
    product = Product(
        reach,
        terrain,
        flowing,
        layers,
        report,
        preview=options.quick,
        runs=table,
        ladder=climbed,
        doubt=uncertainty,
        log=trips,
        cards=followed.cards,
        whom=followed.whom,
        keys=product_keys(reach, settings, solved, readings, every) if only is None else {},
    )
    lists = {label: [s.short for s in day_list(product, label)] for label in product.labels}
    whose = list_for_words(reach.plan.outing)
    return replace(product, report={**report, "day_lists": lists, "list_for": whose})


def _rasters(store: Store, solved: Solved) -> tuple[xr.Dataset, xr.Dataset | None]:
    """Return the flow field and the uncertainty at every flow that was read."""
    return solved.rungs.flow, _shown_uncertainty(store, solved, solved.rungs.flow)


def _shown_uncertainty(store: Store, solved: Solved, flowing: xr.Dataset) -> xr.Dataset | None:
    """Return the uncertainty at the flows shown; None without an ensemble."""
    uncertainty = solved.ensemble.uncertainty
    if uncertainty is None:
        return None
    labels, flows = flowing["asked"].to_numpy().tolist(), flowing["flow"].to_numpy()
    key = fingerprint(solved.rungs.keys, solved.ensemble.keys, labels, flows)

    def made() -> xr.Dataset:
        fields = (flowing.isel(flow=[k]) for k in range(flowing.sizes["flow"]))
        packed = packed_flows(solved.nodes.uncertainty_at(uncertainty, one) for one in fields)
        return packed.assign_coords(asked=flowing["asked"])

    return store.held("shown doubt", key, made)
