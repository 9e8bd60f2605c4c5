"""The water and the angler at each flow: flow by flow, side by side where there are workers."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial

import geopandas as gpd
import pandas as pd
import xarray as xr

from reachmap import angler, water
from reachmap.base.digests import fingerprint
from reachmap.base.fingerprint import stage_key
from reachmap.flow.notes import NoteKind, notes_of, repacked
from reachmap.markup.model import Markup, StructureMark
from reachmap.pipeline.readers import Readers
from reachmap.pipeline.rungs import Nodes, Rungs
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.stage_ground import StageGround, of_the_person, person_key
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


@dataclass(frozen=True, slots=True)
class Task:
    """One flow's reading: keys of what it makes, and what of that is stored already.

    `flow` is None where all is stored; `then` is the river on the day of the terrain model,
    `neighbours` the flows next to one that was interpolated; `uncertainty` the ensemble's spread at
    the flow, None where there is no ensemble or the water is stored.
    """

    label: str
    flow: xr.Dataset | None
    water_key: str
    angler_key: str
    read: Layers | None
    stood: Layers | None
    then: xr.Dataset | None = None
    neighbours: tuple[xr.Dataset, ...] = ()
    uncertainty: xr.Dataset | None = None


@dataclass(frozen=True, slots=True)
class UncertaintyAt:
    """The ensemble's uncertainty at any flow: its Dataset at the solved flows, and their keys."""

    nodes: Nodes
    uncertainty: xr.Dataset
    keys: Sequence[str]

    def at(self, flow: xr.Dataset) -> xr.Dataset:
        """Return the uncertainty at the one flow of a field."""
        return self.nodes.uncertainty_at(self.uncertainty, flow)

    def key(self, flow: float) -> str:
        """Return its key at a flow [m3/s]."""
        return self.nodes.uncertainty_key(self.keys, flow)


def read_flows(
    reach: Markup,
    terrain: xr.Dataset,
    tasks: Sequence[Task],
    settings: Settings,
    store: Store,
    readers: Readers,
) -> Iterator[Layers]:
    """Return the layers of each flow as they are read, lowest first; only missing are computed.

    Parameters
    ----------
    reach, terrain, settings, store
        Drawing, ground, settings and cache of the build.
    tasks
        From `reading_tasks`.
    readers
        The processes that work side by side.
    """
    missing = any(task.flow is not None for task in tasks)
    grounds = StageGround.of("water", terrain).ground, StageGround.of("angler", terrain).ground
    if missing:  # what no flow changes is found once
        grounds = grounds[0], angler.marked_ends(grounds[1])
    bends = water.bends_of(grounds[0], settings.water.bends) if missing else []
    work = partial(_work, of_the_person(reach), reach.structure, grounds, bends, settings)

    def stored(task: Task, made: Read) -> Layers:
        read, stood = task.read or {}, task.stood or {}
        if made.water is not None and made.presence is not None:
            store.keep_dataset(PRESENCE, task.water_key, made.presence)
            read = _kept(store, f"water {task.label}", task.water_key, made.water)
        if made.angler is not None and made.swept is not None:
            store.keep_dataset(SWEPT, task.angler_key, made.swept)
            stood = _kept(store, f"angler {task.label}", task.angler_key, made.angler)
        layers = {**read, **stood}
        return {name: _called(task.label, one) for name, one in layers.items()}

    return readers.read(work, stored, tasks)


def reading_tasks(  # noqa: PLR0913 - what every flow's keys are made of
    reach: Markup,
    terrain: xr.Dataset,
    rungs: Rungs,
    settings: Settings,
    store: Store,
    *,
    numbers: Iterable[int],
    then: tuple[xr.Dataset, str] | None,
    uncertainty: UncertaintyAt | None,
) -> Iterable[Task]:
    """Yield the tasks of some of the flows to read, given by number.

    `then` is the river at the flow of the terrain model's day and its key; None where not known.
    `uncertainty` gives the ensemble's spread at a flow and its key; None without an ensemble.
    An interpolated flow is graded by the next steps of the ladder too: the result at a step does
    not depend on which other flow was asked for.
    """
    flowing, flow_keys = rungs.flow, rungs.keys
    between = {note.flow for note in notes_of(flowing) if note.kind is NoteKind.INTERPOLATED}
    person, marked = person_key(reach), fingerprint(reach.structure)
    grounds = {stage: StageGround.of(stage, terrain).key for stage in ("water", "angler")}
    discharges = flowing["flow"].to_numpy().tolist()
    steps = [k for k, flow in enumerate(discharges) if flow in settings.solvable]
    for index in numbers:
        flow_key = flow_keys[index]
        one = flowing.isel(flow=[index])
        label = str(one["asked"].to_numpy()[0])
        made_of = {"flow": flow_key, "ground": grounds["water"], "marks": marked}
        if uncertainty is not None:
            made_of["doubt"] = uncertainty.key(discharges[index])
        water_key = stage_key("water", water.VERSION, asdict(settings.water), made_of)
        inputs = {"water": water_key, "ground": grounds["angler"], "who": person}
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
        neighbours = tuple(repacked(flowing.isel(flow=[n])) for n in around)
        spread = None if uncertainty is None or read is not None else uncertainty.at(one)
        yield Task(
            label, repacked(one), water_key, angler_key, read, stood, day, neighbours, spread
        )


def _work(
    person: Markup,
    marks: Sequence[StructureMark],
    grounds: tuple[xr.Dataset, xr.Dataset],
    bends: list[water.Bend],
    settings: Settings,
    tasks: Sequence[Task],
) -> Iterator[Read]:
    """Yield the layers of water and angler of flows next to each other.

    `person` and `grounds`, of the water and of the angler, are what their keys are made of.
    """
    gradings = angler.Gradings()
    for task in tasks:
        made = _read_water(grounds[0], bends, marks, settings, task)
        yield _read_angler(grounds[1], person, settings, task, made, gradings)


def _read_water(
    ground: xr.Dataset,
    bends: list[water.Bend],
    marks: Sequence[StructureMark],
    settings: Settings,
    task: Task,
) -> Read:
    """Return the water of one flow, where it is not stored yet."""
    if task.flow is None or task.read is not None:
        return Read()
    reading = water.read_water(
        ground, task.flow, settings.water, bends=bends, uncertainty=task.uncertainty, marks=marks
    )
    return Read(water=dict(reading.layers), presence=reading.presence)


def _read_angler(
    ground: xr.Dataset,
    person: Markup,
    settings: Settings,
    task: Task,
    made: Read,
    gradings: angler.Gradings,
) -> Read:
    """Return what was read of one flow with the angler's layers, where they are not stored yet."""
    if task.flow is None or task.stood is not None:
        return made
    pieces = (made.water or task.read or {})["water"]
    found = angler.assess_flow(
        ground,
        task.flow,
        pieces,
        person,
        settings.angler,
        terrain_day=task.then,
        neighbours=task.neighbours,
        gradings=gradings,
    )
    return replace(made, angler=found.layers, swept=found.swept.to_dataset())


def _called(label: str, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return a layer of one flow under the flow's name in the folder's units."""
    return frame.assign(flow_label=pd.Series(label, frame.index, "str"))


def _stored(store: Store, stage: str, key: str, dataset: str) -> Layers | None:
    """Return stored layers; None where they, or the Dataset of the same key, are not stored."""
    if store.stored_dataset(dataset, key) is None:
        return None
    return store.stored_layers(stage, key)


def _kept(store: Store, stage: str, key: str, layers: Layers) -> Layers:
    """Return layers that were not stored, stored."""
    store.fresh.append(stage)
    return store.keep_layers(stage, key, layers)
