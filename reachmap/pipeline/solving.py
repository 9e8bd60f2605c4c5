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
from reachmap.base.errors import BuildError, FlowFault
from reachmap.base.fields import with_labels
from reachmap.base.fingerprint import stage_key
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem
from reachmap.flow.notes import one_flow_of, stacked_flows
from reachmap.markup.model import Markup
from reachmap.pipeline.ensemble import Ensemble, ensemble_of
from reachmap.pipeline.fitted import Kept, read_fitted
from reachmap.pipeline.running import COMPILING, must_compile
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.store import Store
from reachmap.pipeline.terrain import make_terrain, terrain_key

if TYPE_CHECKING:
    from reachmap.flow.engine.pieces import Mapper

LOG = logging.getLogger("reachmap")


class Steps:
    """Steps of a build: calls the progress callback and logs the time each step took."""

    def __init__(self, progress: Progress, total: int) -> None:
        """Begin at none of `total`."""
        self.progress, self.total, self.done = progress, total, -1
        self.name, self.begun = "", time.perf_counter()

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
            LOG.info("%s: %.2f s", self.name, time.perf_counter() - self.begun)

    def also(self, name: str) -> None:
        """Report a part of the step under way."""
        self.progress(name, max(self.done, 0), self.total)


@dataclass(frozen=True, slots=True)
class Job:
    """One build: drawing, settings, store of results, progress, worker processes and mapper."""

    reach: Markup
    settings: Settings
    store: Store
    steps: Steps
    workers: int
    mapper: Mapper | None


@dataclass(frozen=True, slots=True)
class Solved:
    """The stages below the readings: ground, flow and ensemble, and the keys of each flow.

    Parameters
    ----------
    ground, flow, ensemble
        Results of the stages.
    flow_keys
        Key of each flow of `flow`, in its order.
    terrain_day
        The river at the flow of the terrain model's day and its key; None without a model.
    kept
        The fit in force, or None.
    """

    ground: xr.Dataset
    flow: xr.Dataset
    flow_keys: tuple[str, ...]
    ensemble: Ensemble
    terrain_day: tuple[xr.Dataset, str] | None
    kept: Kept | None


def solve_reach(job: Job) -> Solved:
    """Return ground, flow and ensemble, every stage taken from the cache where it is stored."""
    kept = read_fitted(job.reach.folder)
    terrain, ground_key = _ground(job, kept)
    flowing, flow_keys = _flows(job, terrain, ground_key, job.settings.flows)
    job.steps.begin("how sure it is")
    ensemble = ensemble_of(job.reach, terrain, (flowing, flow_keys), job.settings, job.store, kept)
    then = _terrain_day(job, terrain, ground_key)
    return Solved(terrain, flowing, flow_keys, ensemble, then, kept)


def _ground(job: Job, kept: Kept | None) -> tuple[xr.Dataset, str]:
    """Return the ground and its key."""
    reach, settings = job.reach, job.settings.ground
    key = terrain_key(reach, settings, kept)
    job.steps.begin("the ground")
    return job.store.dataset("ground", key, partial(make_terrain, reach, settings, kept)), key


def _flows(
    job: Job, terrain: xr.Dataset, ground_key: str, values: tuple[float, ...]
) -> tuple[xr.Dataset, tuple[str, ...]]:
    """Return the flow field of every flow and the key of each; only missing ones are worked out."""
    settings, store, units = job.settings, job.store, job.reach.plan.units
    keys = tuple(
        stage_key(
            "flow",
            flow.VERSION,
            asdict(settings.flow),
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
    return with_labels(stacked_flows(parts), units), keys


def _terrain_day(job: Job, terrain: xr.Dataset, ground_key: str) -> tuple[xr.Dataset, str] | None:
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
