"""Runs, channels and ways back followed over the flows, the score and the short lists, by name.

What is worked out knows runs by stand-ins (`neutral_names`) and is held between builds under a key
of all it is made of; names are put in last.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import geopandas as gpd
import pandas as pd

from reachmap import angler, water
from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.digests import fingerprint
from reachmap.logbook.model import Entry
from reachmap.markup.model import Markup
from reachmap.markup.plan_parts import Outing
from reachmap.outputs.product import CardOf
from reachmap.outputs.whom import Whom, other_outings
from reachmap.pipeline.for_whom import Followed, Listed, Scored
from reachmap.pipeline.logged import order_factors
from reachmap.pipeline.neutral_names import RunNames, stand_ins, without_names
from reachmap.pipeline.reading import Layers
from reachmap.pipeline.readings import Readings, meetings
from reachmap.pipeline.run_names import sections_along
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.solving import Job, Solved
from reachmap.pipeline.stage_ground import of_the_person, person_key


@dataclass(frozen=True, slots=True)
class Side:
    """Runs and places with the score of one outing, ways back and hazards filled in."""

    outing: Outing
    scored: Scored
    home: gpd.GeoDataFrame


@dataclass(frozen=True, slots=True)
class Computed:
    """What is worked out over the flows, runs by stand-in.

    Parameters
    ----------
    before
        Runs and places before it is said who fishes.
    layers
        Every layer for those of whom reach.toml speaks.
    own
        The score for them.
    held
        What was worked out of it later, by name.
    """

    before: Followed
    layers: Layers
    own: Side
    held: dict[tuple[str, ...], Any] = field(default_factory=dict, compare=False)

    def later(self, name: tuple[str, ...], make: Callable[[], Any]) -> Any:
        """Return what is worked out of it once, when first asked for."""
        if name not in self.held:
            self.held[name] = make()
        return self.held[name]

    def others(self) -> list[Side]:
        """Return the score for everyone else who may fish the map."""
        found: list[Side] = self.later(("others",), self._others)
        return found

    def _others(self) -> list[Side]:
        """Return what `others` holds."""
        before, stations = self.before, self.layers["stations"]
        outings = other_outings(self.own.outing)
        sides = []
        for outing, scored in zip(outings, before.scored(outings), strict=True):
            home = stations.assign(odds=scored.stations["odds"].to_numpy())
            near = angler.runs_with_hazards(
                scored.runs, before.water, home, self.layers["hazards_near"]
            )
            sides.append(Side(outing, replace(scored, runs=near), home))
        return sides

    def listed(self, side: Side, outing: Outing, factors: FloatArray | None) -> Listed:
        """Return the short lists of an outing, with the log's factors."""
        name = "listed", fingerprint(outing, factors)
        found: Listed = self.later(
            name, lambda: self.before.listed(side.scored, side.home, outing, factors)
        )
        return found

    def card(self, side: Side, run: str, label: str) -> angler.RunCard | None:
        """Return the card of a run at a flow for an outing."""
        who = fingerprint(side.outing)
        grouped = self.later(("grouped", who), lambda: self._grouped(side))
        before = self.before
        found: angler.RunCard | None = self.later(
            ("card", who, run, label),
            lambda: angler.run_card(run, label, grouped, before.reach, before.settings.angler),
        )
        return found

    def _grouped(self, side: Side) -> angler.CardLayers:
        """Return the layers that an outing's cards are made from."""
        if side is self.own:
            return angler.CardLayers.of(self.layers)
        own = self.later(("grouped", fingerprint(self.own.outing)), lambda: self._grouped(self.own))
        made: angler.CardLayers = own.with_stations(side.home, self.before.water)
        return made


@dataclass(frozen=True, slots=True)
class FollowedRuns:
    """Layers, table of runs and cards, by name, for those of whom reach.toml speaks and others.

    Parameters
    ----------
    layers
        Every layer over all flows.
    table
        The table of runs by flow with its short lists.
    cards
        Gives the card of a run at a flow.
    whom
        Gives the map for everyone who may fish it, the folder's own first.
    """

    layers: Layers
    table: pd.DataFrame
    cards: CardOf
    whom: Callable[[], tuple[Whom, ...]]


def follow_inputs(
    reach: Markup, settings: Settings, solved: Solved, readings: Readings
) -> dict[str, object]:
    """Return all that runs are followed, scored and listed by; no run's name is in it."""
    return {
        "ground": solved.ground_key,
        "flows": (solved.rungs.keys, solved.rungs.labels),
        "read": [(label, *readings.keys[label]) for label in readings.labels],
        "confidence": (solved.ensemble.keys, settings.uncertainty),
        "water": settings.water,
        "angler": settings.angler,
        "person": person_key(reach),
        "drawn": [run.outline for run in reach.runs],
        "outing": replace(reach.plan.outing, log_weight=0.0),
        "shown": settings.flows,
        "list": settings.short_list,
    }


def follow_all(
    job: Job,
    solved: Solved,
    readings: Readings,
    names: Mapping[int, str],
    entries: Sequence[Entry],
    only: str | None = None,
) -> FollowedRuns:
    """Return runs and ways back followed over what was read, scored and listed.

    Parameters
    ----------
    job, solved, readings
        What is mapped, its stages so far, and what was read at every rung.
    names
        Names of stretches by number that an earlier build gave.
    entries
        The log's.
    only
        Name of the one rung whose ways back are followed, where the others' are; None for all.
    """
    reach, settings = job.reach, job.settings
    make = partial(_computed, job, solved, readings, only)
    if only is None:
        inputs = follow_inputs(reach, settings, solved, readings)
        made = job.store.held("followed", fingerprint(inputs), make)
    else:
        made = make()
    sections = sections_along(solved.ground, settings.water)
    used = [*made.layers["water"]["run"].astype(str), *made.layers["runs"]["run"].astype(str)]
    named = RunNames.of(used, reach.runs, sections, names)
    drawn = [run.name for run in reach.runs]

    def listed(side: Side) -> tuple[gpd.GeoDataFrame, Listed]:
        runs, outing = named.layer(side.scored.runs), side.outing
        table = named.table(side.scored.table)
        factors = order_factors(table, entries, runs, drawn, reach.plan.outing.log_weight)
        lists, choices = made.listed(side, outing, factors)
        return runs, (named.table(lists), choices)

    def cards(side: Side) -> CardOf:
        def card(run: str, label: str) -> angler.RunCard | None:
            found = made.card(side, named.stand_in(run), label)
            return None if found is None else replace(found, run=run)

        return card

    runs, own = listed(made.own)
    every = {**made.layers, "water": named.layer(made.layers["water"]), "runs": runs}
    mine = cards(made.own)

    def whom() -> tuple[Whom, ...]:
        rules = settings.short_list
        found = [Whom(reach.plan.outing, runs, *own, mine, rules)]
        for side in made.others():
            theirs, (table, choices) = listed(side)
            outing = replace(side.outing, log_weight=reach.plan.outing.log_weight)
            found.append(Whom(outing, theirs, table, choices, cards(side), rules))
        return tuple(found)

    return FollowedRuns(every, own[0], mine, whom)


def _computed(job: Job, solved: Solved, readings: Readings, only: str | None) -> Computed:
    """Return what is worked out over the flows; `reach` is cut down to what it may know."""
    settings, terrain, flowing = job.settings, solved.ground, solved.rungs.flow
    outing = replace(job.reach.plan.outing, log_weight=0.0)
    drawn = without_names(job.reach.runs)
    layers = readings.layers
    width = Centreline.of(terrain).median_width
    layers = water.seams_that_last(layers, flowing["flow"].to_numpy().tolist(), settings.water)
    sections = sections_along(terrain, settings.water)
    followed, runs = water.follow_runs(
        layers["water"], terrain, drawn, settings.water, names=stand_ins(sections)
    )
    stations = layers["stations"]
    fishable = angler.fishable_runs(followed, stations)
    table = water.runs_by_flow(followed, runs, flowing, settings.water, fishable=fishable)
    runs, table = angler.pace_runs(runs, table, followed, stations, settings.angler)
    followed, table = angler.with_wading(followed, table, stations)
    person = of_the_person(job.reach)
    meet = meetings(job.store, readings)
    before = Followed(person, settings, followed, stations, runs, table, fishable, meet, only)
    [scored] = before.scored([outing])
    channels = water.follow_channels(layers["channels"], width)
    structure = water.follow_structure(layers["structure"], settings.water.structure.same_m)
    layers = {**layers, "stations": scored.stations}
    found = _ways_back(job, solved, readings, layers, only)
    home = {name: one for name, one in angler.with_closings(layers, found).items() if name in found}
    runs = angler.runs_with_hazards(scored.runs, followed, home["stations"], layers["hazards_near"])
    made = {"water": followed, "runs": runs, "channels": channels, "structure": structure}
    own = Side(outing, replace(scored, runs=runs), home["stations"])
    return Computed(before, {**layers, **home, **made}, own)


def _ways_back(
    job: Job, solved: Solved, readings: Readings, layers: Layers, only: str | None
) -> Layers:
    """Return `wading`, `stations` and `bars` with when the way back closes."""
    rise = job.settings.angler.hazards.more_water_m
    make = partial(
        angler.ways_back, solved.ground, solved.rungs.flow, layers, rise_m=rise, only=only
    )
    if only is not None:
        return make()
    read = [readings.keys[label] for label in readings.labels]
    key = fingerprint(solved.rungs.keys, read, job.settings.angler.hazards)
    return job.store.held("back", key, make)
