"""What was read at every flow of a map, before runs are followed; one flow more can be put in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace

import geopandas as gpd
import pandas as pd

from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.join import Meeting
from reachmap.angler.interception.swept import Swept
from reachmap.base.centreline import Centreline
from reachmap.base.digests import fingerprint
from reachmap.base.fingerprint import stage_key
from reachmap.base.schema import as_promised, layer_frame
from reachmap.markup.model import Markup
from reachmap.pipeline.ensemble import class_sds
from reachmap.pipeline.reading import (
    PRESENCE,
    SWEPT,
    Layers,
    Task,
    UncertaintyAt,
    read_flows,
    reading_tasks,
)
from reachmap.pipeline.solving import Job, Solved
from reachmap.pipeline.store import Store
from reachmap.uncertainty import SURVEY_VERSION, survey_layer, with_confidence

Keys = tuple[str, str]
"""Keys of the water and of the angler at a flow."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Every layer at every flow read, stacked in the order of the flows.

    Parameters
    ----------
    labels
        Name of each flow, rising.
    layers
        Layers of all flows, one flow's rows by `flow_label`, as `read_flows` gives them, with the
        confidence of the water.
    suggestions
        The layer of places worth surveying, which is for all flows together.
    keys
        Keys of the water and of the angler at each flow, by name: `PRESENCE` and `SWEPT` are stored
        under them.
    suggestions_key
        Key of `suggestions`.
    """

    labels: tuple[str, ...]
    layers: Mapping[str, gpd.GeoDataFrame]
    suggestions: gpd.GeoDataFrame
    keys: Mapping[str, Keys]
    suggestions_key: str = ""

    def with_one(self, labels: Sequence[str], label: str, one: tuple[Layers, Keys]) -> Readings:
        """Return the readings with one flow more, or in place of that of its name.

        Parameters
        ----------
        labels
            Every flow then, rising, `label` among them.
        label, one
            The flow, and what was read at it.
        """
        layers, keys = one
        at = list(labels).index(label)
        spans = set(labels[:at]), set(labels[at + 1 :])
        stacked = {}
        for name, frame in self.layers.items():
            below, above = (frame[frame["flow_label"].isin(span)] for span in spans)
            stacked[name] = _joined(name, [below, layers[name], above], str(frame.crs))
        every = {**self.keys, label: keys}
        return Readings(tuple(labels), stacked, self.suggestions, every, self.suggestions_key)


def read_all(job: Job, solved: Solved) -> Readings:
    """Return what is read at every rung of the ladder."""
    job.steps.begin("reading the water")
    labels = solved.rungs.labels
    tasks = _tasks(job, solved, range(len(labels)))
    keys = {label: (t.water_key, t.angler_key) for label, t in zip(labels, tasks, strict=True)}
    # What each flow's layers are is in its keys; the rest is what their confidence is made of.
    sure = solved.ground_key, solved.rungs.keys, solved.ensemble.keys, job.settings.uncertainty
    stacked = job.store.held(
        "stacked", fingerprint(keys, sure), lambda: _stacked(job, solved, tasks)
    )
    suggestions, key = _suggestions(job, solved)
    return Readings(labels, stacked, suggestions, keys, key)


def _stacked(job: Job, solved: Solved, tasks: Sequence[Task]) -> Layers:
    """Return the layers of every rung, stacked."""
    found: dict[str, list[gpd.GeoDataFrame]] = {}
    for layers in _layers_at(job, solved, range(len(tasks)), tasks):
        for name, frame in layers.items():
            found.setdefault(name, []).append(frame)
    return {name: _joined(name, frames, job.reach.crs) for name, frames in found.items()}


def _suggestions(job: Job, solved: Solved) -> tuple[gpd.GeoDataFrame, str]:
    """Return the places worth surveying, taken from the cache where they are stored; their key."""
    reach, settings = job.noted, job.settings.ground
    sds, person = class_sds(solved.kept, settings), reach.plan.kit.angler
    key = stage_key(
        "asks",
        SURVEY_VERSION,
        {"ground": asdict(settings), "roughness_doubt": sds},
        {
            "ground": solved.ground_key,
            "flows": ",".join(solved.nodes.keys),
            "doubts": ",".join(solved.ensemble.keys),
            "who": fingerprint(person.cast_limit_m, person.wade_limit_m, reach.plan.season),
        },
    )
    stored = job.store.stored_layers("asks", key)
    if stored is None:
        uncertainty = solved.ensemble.uncertainty
        made = survey_layer(solved.ground, solved.nodes.flow, uncertainty, reach, settings, sds)
        stored = job.store.keep_layers("asks", key, {"asks": made})
    return stored["asks"], key


def read_one(job: Job, solved: Solved, label: str) -> tuple[Layers, Keys]:
    """Return what is read at the rung of a name."""
    job.steps.begin("reading the water")
    numbers = [solved.rungs.labels.index(label)]
    [task] = tasks = _tasks(job, solved, numbers)
    [layers] = _layers_at(job, solved, numbers, tasks)
    return layers, (task.water_key, task.angler_key)


def _tasks(job: Job, solved: Solved, numbers: Sequence[int]) -> list[Task]:
    """Return the tasks of some rungs, by number."""
    uncertainty = solved.ensemble.uncertainty
    spread = None
    if uncertainty is not None:
        spread = UncertaintyAt(solved.nodes, uncertainty, solved.ensemble.keys)
    return list(
        reading_tasks(
            _read_reach(job), solved.ground, solved.rungs, job.settings, job.store,
            numbers=numbers, then=solved.terrain_day, uncertainty=spread,
        )
    )  # fmt: skip


def _read_reach(job: Job) -> Markup:
    """Return the drawing with the log's notes of structure."""
    return replace(job.reach, structure=job.noted.structure)


def _layers_at(
    job: Job, solved: Solved, numbers: Sequence[int], tasks: Sequence[Task]
) -> Iterator[Layers]:
    """Yield the layers at some rungs, by number, with the water's confidence."""
    rungs, settings, uncertainty = solved.rungs, job.settings, solved.ensemble.uncertainty
    read = read_flows(_read_reach(job), solved.ground, tasks, settings, job.store, job.readers)
    width = Centreline.of(solved.ground).median_width
    for number, task, layers in zip(numbers, tasks, read, strict=True):
        job.steps.begin(f"water and wading read, {task.label}")
        if uncertainty is not None and settings.uncertainty is not None:
            one, here = rungs.flow.isel(flow=[number]), task.uncertainty
            if here is None:
                here = solved.nodes.uncertainty_at(uncertainty, one)
            layers["water"] = with_confidence(
                layers["water"], one, here, width, settings.uncertainty
            )
        yield layers


def _joined(name: str, frames: Sequence[gpd.GeoDataFrame], crs: str) -> gpd.GeoDataFrame:
    """Return one layer over all flows; an empty one keeps its columns."""
    full = [frame for frame in frames if len(frame)]
    if not full:
        return layer_frame(name, [], crs)
    whole = gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)
    return as_promised(name, whole)


def meetings(store: Store, readings: Readings) -> Callable[[str], Meeting | None]:
    """Return what gives where fish are and what casts cover at a flow, read from the store."""

    def meet(label: str) -> Meeting | None:
        water_key, angler_key = readings.keys[label]
        presence = store.stored_dataset(PRESENCE, water_key)
        swept = store.stored_dataset(SWEPT, angler_key)
        if presence is None or swept is None:
            return None
        return Presence.of_dataset(presence), Swept.of_dataset(swept)

    return meet
