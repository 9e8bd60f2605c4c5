"""Ground, flow and ensemble of a build, each flow stored under its own key."""

from __future__ import annotations

import logging
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import xarray as xr

from reachmap import flow
from reachmap.base.digests import fingerprint
from reachmap.base.errors import BuildError, FlowFault
from reachmap.base.fields import with_labels
from reachmap.base.fingerprint import stage_key
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem
from reachmap.flow import FlowSettings
from reachmap.flow.notes import one_flow_of, packed_flows
from reachmap.markup.model import Markup
from reachmap.pipeline.ensemble import Ensemble, ensemble_of
from reachmap.pipeline.fitted import StoredFit, read_fitted
from reachmap.pipeline.readers import Readers
from reachmap.pipeline.rungs import Nodes, Rungs, read_rungs, solve_nodes
from reachmap.pipeline.running import COMPILING, must_compile
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.stage_ground import StageGround
from reachmap.pipeline.store import Store
from reachmap.pipeline.terrain import make_terrain, terrain_key

if TYPE_CHECKING:
    from reachmap.flow.engine.pieces import Mapper

LOG = logging.getLogger("reachmap")


class Steps:
    """Steps of a build: calls the progress callback, notes and logs the time each step took.

    `seconds` holds the time by step, those that differ behind a comma together: whatever a build
    does is in some step, so that they add up to the whole.
    """

    def __init__(self, progress: Progress, total: int) -> None:
        """Begin at none of `total`."""
        self.progress, self.total, self.done = progress, total, -1
        self.name, self.begun = "", time.perf_counter()
        self.seconds: dict[str, float] = {}

    def begin(self, name: str) -> None:
        """Report that a step begins; the one before it is done."""
        self._log()
        self.name, self.begun = name, time.perf_counter()
        self.done = min(self.done + 1, self.total)
        self.progress(name, self.done, self.total)

    def finish(self) -> None:
        """Report that all is done."""
        self._log()
        self.name, self.done = "", self.total
        self.progress("done", self.done, self.total)

    def _log(self) -> None:
        """Log the time of the step that ends."""
        if self.name:
            spent = time.perf_counter() - self.begun
            LOG.info("%s: %.2f s", self.name, spent)
            kind = self.name.split(",")[0]
            self.seconds[kind] = self.seconds.get(kind, 0.0) + spent

    def elapsed(self) -> dict[str, float]:
        """Return the seconds of each step so far, the one under way included."""
        self._log()
        self.begun = time.perf_counter()
        return {name: round(spent, 3) for name, spent in self.seconds.items()}

    def also(self, name: str) -> None:
        """Report a part of the step under way."""
        self.progress(name, max(self.done, 0), self.total)


@dataclass(frozen=True, slots=True)
class Job:
    """One build: drawing, settings, store of results, progress, readers of flows and mapper.

    `noted` is the drawing with the log's evidence: the ground is made from it. What is written and
    handed on is of the drawing alone.
    """

    reach: Markup
    noted: Markup
    settings: Settings
    store: Store
    steps: Steps
    readers: Readers
    mapper: Mapper | None


@dataclass(frozen=True, slots=True)
class Solved:
    """The stages below the readings: ground, solved flows, ensemble, and all flows to read.

    Parameters
    ----------
    ground, ground_key
        The ground stage's Dataset, and its key.
    nodes
        The solved flows.
    rungs
        Every flow to read.
    ensemble
        The uncertainty at the solved flows.
    terrain_day
        The river at the flow of the terrain model's day and its key; None without a model.
    kept
        The fit in force, or None.
    """

    ground: xr.Dataset
    ground_key: str
    nodes: Nodes
    rungs: Rungs
    ensemble: Ensemble
    terrain_day: tuple[xr.Dataset, str] | None
    kept: StoredFit | None


def solve_reach(job: Job) -> Solved:
    """Return ground, flows and ensemble, every stage taken from the cache where it is stored."""
    kept, settings = read_fitted(job.reach.folder), job.settings
    units = job.reach.plan.units
    key = terrain_key(job.noted, settings.ground, kept)
    terrain = _ground(job, key, kept)
    seen = StageGround.of("flow", terrain)
    job.steps.begin("the flow of the river")
    liked = [one for one in job.reach.plan.flows if one in settings.solvable]
    nodes = job.store.held(
        "nodes",
        fingerprint(seen.key, settings.flow, settings.solvable, liked, settings.nodes),
        lambda: solve_nodes(
            seen.ground, partial(_flows, job, seen), settings.solvable, liked, settings.nodes
        ),
    )
    job.steps.begin("how sure it is")
    flows = with_labels(nodes.flow, units), nodes.keys
    ensemble = ensemble_of(job.reach, terrain, flows, settings, job.store, kept)
    then = _terrain_day(job, seen)
    job.steps.begin("the flows between")
    between = partial(read_rungs, nodes, settings.rungs, units)
    rungs = job.store.held(
        "rungs",
        fingerprint(nodes.keys, settings.rungs, units),
        lambda: job.store.timed_part("between", between),
    )
    return Solved(terrain, key, nodes, rungs, ensemble, then, kept)


def _ground(job: Job, key: str, kept: StoredFit | None) -> xr.Dataset:
    """Return the ground of a key."""
    reach, settings = job.noted, job.settings.ground
    job.steps.begin("the ground")
    if not job.store.has("ground", key):  # then every flow will be read
        job.readers.begin()
    return job.store.dataset("ground", key, partial(make_terrain, reach, settings, kept))


def _flows(
    job: Job,
    seen: StageGround,
    values: Sequence[float],
    nodes: Nodes | None = None,
) -> tuple[xr.Dataset, tuple[str, ...]]:
    """Return the flow field of every flow and the key of each; only missing ones are worked out.

    With `nodes` each flow starts from what lies between them, and its key holds what that is.
    """
    settings, store, units = job.settings, job.store, job.reach.plan.units
    near = None if nodes is None else [nodes.at(value) for value in values]
    keys = tuple(
        flow_key(seen, settings.flow, value, "" if near is None else near[k][1])
        for k, value in enumerate(values)
    )
    for value in values:
        job.steps.also(f"the flow of the river, {flow_label(value, units)}")
    missing = [q for q, key in zip(values, keys, strict=True) if not store.has("flow", key)]
    made = None
    if missing:
        if job.mapper is None and must_compile(settings.flow):
            job.steps.also(COMPILING)
        begun = None
        if near is not None:
            begun = packed_flows(
                [made for (made, _), value in zip(near, values, strict=True) if value in missing]
            )
        run = partial(
            flow.solve, seen.ground, missing, settings.flow, mapper=job.mapper, near=begun
        )
        try:
            made = store.timed("flow", run)
        except BuildError as error:
            raise _labelled(error, units) from None
    parts = [
        store.dataset(
            f"flow {flow_label(value, units)}", key, partial(_one_flow, made, missing, value)
        )
        for value, key in zip(values, keys, strict=True)
    ]
    return packed_flows(parts), keys


def flow_key(seen: StageGround, settings: FlowSettings, value: float, near: str = "") -> str:
    """Return the key of a solved flow [m3/s]; `near` is that of the water it began with."""
    inputs = {"ground": seen.key, "flow": value.hex(), **({"near": near} if near else {})}
    return stage_key("flow", flow.VERSION, asdict(settings), inputs)


def _terrain_day(job: Job, seen: StageGround) -> tuple[xr.Dataset, str] | None:
    """Return the river at the flow of the terrain model's day, and its key; None without a model.

    What this wets cannot have been seen dry. Where that flow cannot be solved the lowest mapped
    flow takes its place: it wets more, and so leaves more unknown.
    """
    if seen.ground.attrs["vertical"] != "dem":
        return None
    for value in (float(seen.ground.attrs["low_flow"]), job.settings.rungs[0]):
        try:
            day, keys = _flows(job, seen, (value,))
        except BuildError:
            continue
        return with_labels(day, job.reach.plan.units), keys[0]
    return None


def _one_flow(made: xr.Dataset | None, missing: Sequence[float], value: float) -> xr.Dataset:
    """Return one flow out of those just worked out, with its own notes only."""
    if made is None:
        msg = f"flow {value:g} was found stored, then not"
        raise RuntimeError(msg)
    return one_flow_of(made, list(missing).index(value))


def _labelled(error: BuildError, units: UnitSystem) -> BuildError:
    """Return an error of the flow stage with its flows named in the folder's units."""
    return BuildError(
        [
            replace(fault, where=flow_label(fault.flow, units))
            if isinstance(fault, FlowFault)
            else fault
            for fault in error.faults
        ]
    )
