"""The water and the angler at each flow: flow by flow, side by side where there are workers."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import partial
from multiprocessing import get_context

import geopandas as gpd
import pandas as pd
import xarray as xr

from reachmap import angler, water
from reachmap.base.fingerprint import stage_key
from reachmap.flow.notes import NoteKind, notes_of, repacked
from reachmap.markup.model import Markup
from reachmap.pipeline.keys import fingerprint
from reachmap.pipeline.rungs import Nodes, Rungs
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.store import Store

Layers = dict[str, gpd.GeoDataFrame]


@dataclass(frozen=True, slots=True)
class Read:
    """What was read at one flow; None where it was not made anew.

    Parameters
    ----------
    water, angler
        Layers of the stages.
    presence
        Where fish pass and lie (`water.presence_of`).
    swept
        What casts cover (`angler.interception`).
    """

    water: Layers | None = None
    angler: Layers | None = None
    presence: xr.Dataset | None = None
    swept: xr.Dataset | None = None


PRESENCE, SWEPT = "presence", "swept"
"""Names under which the Datasets are stored, with the keys of the water and of the angler."""

PARTS = 4
"""Parts that each worker gets of the flows, one after the other (our choice, 2-4): fewer share more
of their grading, more keep all workers busy to the end."""


@dataclass(frozen=True, slots=True)
class Task:
    """One flow's reading: keys of what it makes, and what of that is stored already.

    `flow` is None where all is stored; `then` is the river on the day of the terrain model,
    `beside` the flows next to one that was interpolated; `doubt` how far the ensemble differs at
    the flow, None where there is no ensemble or the water is stored.
    """

    label: str
    flow: xr.Dataset | None
    water_key: str
    angler_key: str
    read: Layers | None
    stood: Layers | None
    then: xr.Dataset | None = None
    beside: tuple[xr.Dataset, ...] = ()
    doubt: xr.Dataset | None = None


@dataclass(frozen=True, slots=True)
class DoubtAt:
    """The ensemble's doubt at any flow: its Dataset at the solved flows, and the key of each."""

    nodes: Nodes
    doubt: xr.Dataset
    keys: Sequence[str]

    def at(self, flow: xr.Dataset) -> xr.Dataset:
        """Return the doubt at the one flow of a field."""
        return self.nodes.doubt_at(self.doubt, flow)

    def key(self, flow: float) -> str:
        """Return its key at a flow [m3/s]."""
        return self.nodes.doubt_key(self.keys, flow)


Work = Callable[[Sequence[Task]], Iterator[Read]]


def read_flows(
    reach: Markup,
    terrain: xr.Dataset,
    tasks: Sequence[Task],
    settings: Settings,
    store: Store,
    *,
    workers: int = 1,
) -> Iterator[Layers]:
    """Yield the layers of each flow, lowest first; only missing ones are worked out.

    Parameters
    ----------
    reach, terrain, settings, store
        What the stages before gave.
    tasks
        From `reading_tasks`.
    workers
        Processes that may work side by side; 1 stays in this one.
    """
    missing = sum(task.flow is not None for task in tasks)
    if missing:  # what no flow changes is found once
        terrain = angler.marked_ends(terrain)
    bends = water.bends_of(terrain, settings.water.bends) if missing else []
    work = partial(_work, reach, terrain, bends, settings)
    with _mapper(work, min(workers, missing)) as run:
        for task, made in zip(tasks, run(tasks), strict=True):
            read, stood = task.read or {}, task.stood or {}
            if made.water is not None and made.presence is not None:
                store.keep_dataset(PRESENCE, task.water_key, made.presence)
                read = _kept(store, f"water {task.label}", task.water_key, made.water)
            if made.angler is not None and made.swept is not None:
                store.keep_dataset(SWEPT, task.angler_key, made.swept)
                stood = _kept(store, f"angler {task.label}", task.angler_key, made.angler)
            layers = {**read, **stood}
            yield {name: _called(task.label, one) for name, one in layers.items()}


def reading_tasks(
    reach: Markup,
    rungs: Rungs,
    settings: Settings,
    store: Store,
    *,
    numbers: Iterable[int],
    then: tuple[xr.Dataset, str] | None,
    doubt: DoubtAt | None,
) -> Iterable[Task]:
    """Yield what is to be done at some of the flows to read, given by number.

    `then` is the river at the flow of the terrain model's day and its key; None where not known.
    `doubt` gives the ensemble's doubt at a flow and its key; None where there is no ensemble.
    A flow that was interpolated is graded by the steps of the ladder next to it too: what is read
    at a step does not hang on which other flow was asked for.
    """
    plan, flowing, flow_keys = reach.plan, rungs.flow, rungs.keys
    between = {note.flow for note in notes_of(flowing) if note.kind is NoteKind.INTERPOLATED}
    person = fingerprint(
        plan.kit, plan.season, reach.hazards, reach.access, reach.trees, reach.rocks
    )
    marked = fingerprint(reach.structure)
    discharges = flowing["flow"].to_numpy().tolist()
    steps = [k for k, flow in enumerate(discharges) if flow in settings.solvable]
    for index in numbers:
        flow_key = flow_keys[index]
        one = flowing.isel(flow=[index])
        label = str(one["asked"].to_numpy()[0])
        made_of = {"flow": flow_key, "marks": marked}
        if doubt is not None:
            made_of["doubt"] = doubt.key(discharges[index])
        water_key = stage_key("water", water.VERSION, asdict(settings.water), made_of)
        inputs = {"water": water_key, "who": person}
        if then is not None:
            inputs["then"] = then[1]
        around: tuple[int, ...] = ()
        if discharges[index] in between:
            at = bisect_left(steps, index)
            above = at + (index in steps)
            around = (*steps[max(at - 1, 0) : at], *steps[above : above + 1])
            inputs["beside"] = ",".join(flow_keys[n] for n in around)
        angler_key = stage_key("angler", angler.VERSION, asdict(settings.angler), inputs)
        read = _stored(store, f"water {label}", water_key, PRESENCE)
        stood = _stored(store, f"angler {label}", angler_key, SWEPT)
        if read is not None and stood is not None:
            yield Task(label, None, water_key, angler_key, read, stood)
            continue
        day = None if then is None else then[0]
        beside = tuple(repacked(flowing.isel(flow=[n])) for n in around)
        spread = None if doubt is None or read is not None else doubt.at(one)
        yield Task(label, repacked(one), water_key, angler_key, read, stood, day, beside, spread)


def _work(
    reach: Markup,
    terrain: xr.Dataset,
    bends: list[water.Bend],
    settings: Settings,
    tasks: Sequence[Task],
) -> Iterator[Read]:
    """Yield the layers of water and angler of flows next to each other."""
    gradings = angler.Gradings()
    for task in tasks:
        yield _read(reach, terrain, bends, settings, task, gradings)


def _read(
    reach: Markup,
    terrain: xr.Dataset,
    bends: list[water.Bend],
    settings: Settings,
    task: Task,
    gradings: angler.Gradings,
) -> Read:
    """Return what of one flow is not stored yet, read anew."""
    if task.flow is None:
        return Read()
    made = Read()
    if task.read is None:
        reading = water.read_water(
            terrain,
            task.flow,
            settings.water,
            bends=bends,
            doubt=task.doubt,
            marks=reach.structure,
        )
        made = Read(water=dict(reading.layers), presence=reading.presence)
    if task.stood is None:
        pieces = (made.water or task.read or {})["water"]
        found = angler.assess_flow(
            terrain,
            task.flow,
            pieces,
            reach,
            settings.angler,
            then=task.then,
            beside=task.beside,
            gradings=gradings,
        )
        made = replace(made, angler=found.layers, swept=found.swept.to_dataset())
    return made


def _called(label: str, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return a layer of one flow under the flow's name in the folder's units."""
    return frame.assign(flow_label=pd.Series(label, frame.index, "str"))


def _stored(store: Store, stage: str, key: str, beside: str) -> Layers | None:
    """Return layers that are stored, and the Dataset beside them too; None where either is not."""
    if store.stored_dataset(beside, key) is None:
        return None
    return store.stored_layers(stage, key)


def _kept(store: Store, stage: str, key: str, layers: Layers) -> Layers:
    """Return layers that were not stored, stored."""
    store.fresh.append(stage)
    return store.keep_layers(stage, key, layers)


@contextmanager
def _mapper(work: Work, workers: int) -> Iterator[Work]:
    """Give the work itself, or one that is done in other processes too, some flows in each."""
    if workers < 2:
        yield work
        return
    # "spawn" is the one way to start a process that is the same on every system. This process is
    # one of the workers: it is at work while the others still load what they need.
    with ProcessPoolExecutor(workers - 1, mp_context=get_context("spawn")) as pool:
        yield partial(_spread, pool, work, workers)


def _spread(pool: Executor, work: Work, workers: int, tasks: Sequence[Task]) -> Iterator[Read]:
    """Yield what a pool and this process make of tasks, in order.

    Neighbours go together, and share their grading. While the part due next is not done, this
    process takes the last part that nobody has begun.
    """
    size = math.ceil(len(tasks) / (PARTS * workers))
    parts = [tasks[first : first + size] for first in range(0, len(tasks), size)]
    sent = [pool.submit(_all_of, work, part) for part in parts]
    own: dict[int, list[Read]] = {}
    try:
        for due, task in enumerate(sent):
            while due not in own and not task.done():
                left = (k for k in range(len(sent) - 1, due - 1, -1) if k not in own)
                last = next((k for k in left if sent[k].cancel()), None)
                if last is None:
                    break
                own[last] = _all_of(work, parts[last])
            yield from own.pop(due) if due in own else task.result()
    finally:
        for task in sent:
            task.cancel()


def _all_of(work: Work, tasks: Sequence[Task]) -> list[Read]:
    """Return all that is made of tasks, fit to be sent back."""
    return list(work(tasks))
