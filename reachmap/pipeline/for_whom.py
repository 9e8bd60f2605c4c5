"""What of a mapped reach hangs on who fishes: the score and the short list."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from reachmap import angler, water
from reachmap.base.arrays import FloatArray
from reachmap.markup.model import Markup
from reachmap.markup.plan_parts import Outing
from reachmap.pipeline.settings import Settings


@dataclass(frozen=True, slots=True)
class Followed:
    """Runs and places followed over the flows, before it is said who fishes.

    Parameters
    ----------
    reach, settings
        The person's part of the drawing (`of_the_person`) and how it is mapped.
    water, stations, runs
        Those layers over all flows, runs filled in.
    table
        From `runs_by_flow`, wading filled in.
    fishable
        Run and flow label of those that somebody can stand by.
    meet
        Gives where fish are and what casts cover at a flow by its label.
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

    def listed(
        self,
        scored: Scored,
        home: gpd.GeoDataFrame,
        outing: Outing,
        factors: FloatArray | None,
    ) -> Listed:
        """Return the short lists for those who fish.

        `home` are the stations, ways back filled in; `factors` the log's (`order_factors`).
        """
        table = scored.table.assign(between=~scored.table["flow"].isin(self.settings.flows))
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
