"""What of a mapped reach hangs on who fishes: the score, the short list, the cards."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import geopandas as gpd
import pandas as pd

from reachmap import angler, water
from reachmap.logbook.model import Entry
from reachmap.markup.model import Markup
from reachmap.markup.plan_parts import Outing
from reachmap.outputs.whom import Whom, other_outings
from reachmap.pipeline.logged import order_factors
from reachmap.pipeline.settings import Settings


@dataclass(frozen=True, slots=True)
class Followed:
    """Runs and places followed over the flows, before it is said who fishes.

    Parameters
    ----------
    reach, settings
        The drawing and how it is mapped.
    water, stations, runs
        Those layers over all flows, runs filled in.
    table
        From `runs_by_flow`, wading filled in.
    fishable
        Run and flow label of those that somebody can stand by.
    meet
        Gives where fish are and what casts cover at a flow by its label.
    entries
        The log's.
    only
        Label of the one flow that is scored; None for all.
    """

    reach: Markup
    settings: Settings
    water: gpd.GeoDataFrame
    stations: gpd.GeoDataFrame
    runs: gpd.GeoDataFrame
    table: pd.DataFrame
    fishable: frozenset[tuple[str, str]]
    meet: Callable[[str], angler.Meeting | None]
    entries: Sequence[Entry]
    only: str | None

    def scored(self, outings: Sequence[Outing]) -> list[Scored]:
        """Return the runs with their score for those who fish, each outing by itself."""
        how, rules = self.settings.angler, self.settings.water.runs
        found = []
        for with_odds, stations in angler.with_odds(
            self.table,
            self.water,
            self.stations,
            self.meet,
            outings,
            how,
            only=self.only,
            least_m=self.settings.short_list.least_m,
        ):
            runs, table = angler.pace_runs(self.runs, with_odds, self.water, stations, how)
            if (table["odds"] > 0).any():
                table = water.with_instead(table, runs, self.fishable, rules, by="odds")
            found.append(Scored(angler.with_windows(runs, table), table, stations))
        return found

    def listed(self, scored: Scored, home: gpd.GeoDataFrame, outing: Outing) -> Listed:
        """Return the short lists for those who fish; `home`: the stations, ways back filled in."""
        table = scored.table.assign(between=~scored.table["flow"].isin(self.settings.flows))
        drawn = [run.name for run in self.reach.runs]
        factors = order_factors(table, self.entries, scored.runs, drawn, outing.log_weight)
        return angler.list_choices(
            table, self.water, home, outing, self.settings.short_list, factors
        )


@dataclass(frozen=True, slots=True)
class Scored:
    """Runs, table of runs by flow and places to stand, with the score of one who fishes."""

    runs: gpd.GeoDataFrame
    table: pd.DataFrame
    stations: gpd.GeoDataFrame


Listed = tuple[pd.DataFrame, Mapping[str, Sequence[angler.Choice]]]
"""The table with its short lists, and what they are cut from at each flow."""


def beside(
    followed: Followed, own: tuple[gpd.GeoDataFrame, Listed], layers: Mapping[str, gpd.GeoDataFrame]
) -> Callable[[], tuple[Whom, ...]]:
    """Return what gives the map for everyone who may fish it, the folder's own first.

    Parameters
    ----------
    followed
        Runs and places, before it is said who fishes.
    own
        The runs and the short lists of those of whom reach.toml speaks.
    layers
        Every layer for them, ways back and hazards filled in.

    Notes
    -----
    Whether one comes by boat and which bank one fishes change the score; the hours and a crossing
    only cut the list. Worked out when first asked for.
    """
    outing, rules = followed.reach.plan.outing, followed.settings.short_list
    stations = layers["stations"]
    hazards = angler.runs_with_hazards

    @cache
    def everyone() -> tuple[Whom, ...]:
        runs, (table, choices) = own
        grouped = angler.CardLayers.of(layers)
        found = [Whom(outing, runs, table, choices, _cards(grouped, followed), rules)]
        others = other_outings(outing)
        for other, scored in zip(others, followed.scored(others), strict=True):
            home = stations.assign(odds=scored.stations["odds"].to_numpy())
            theirs, mine = followed.listed(scored, home, other)
            near = hazards(scored.runs, followed.water, home, layers["hazards_near"])
            cards = _cards(grouped.with_stations(home, followed.water), followed)
            found.append(Whom(other, near, theirs, mine, cards, rules))
        return tuple(found)

    return everyone


def _cards(
    grouped: angler.CardLayers, followed: Followed
) -> Callable[[str, str], angler.RunCard | None]:
    """Return a function that gives the card of a run at a flow, by name and label."""

    def card(run: str, label: str) -> angler.RunCard | None:
        return angler.run_card(run, label, grouped, followed.reach, followed.settings.angler)

    return card
