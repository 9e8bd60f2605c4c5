"""The day's short list at each flow: three to five runs, in the order in which one walks them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.interception.settings import LEAST_RUN_M
from reachmap.angler.pace import fished_places
from reachmap.base.arrays import FloatArray
from reachmap.base.grouped import Rows, known, present
from reachmap.base.schema import as_promised
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import Cast, CastFit, Lack, Side, WayIn
from reachmap.base.words_runs import Mind, Shut
from reachmap.markup.plan_parts import Outing
from reachmap.water.by_run import named_by_run

LOOPS = tuple(
    column for cast, column in CASTS.items() if cast not in (Cast.STATIC_ROLL, Cast.OVERHEAD)
)
"""Columns of the casts with a D-loop."""

STAND = (
    "side",
    "station_m",
    "depth_m",
    "room_m",
    "cast",
    "access",
    "odds",
    "cut_off_m3_s",
    "hazard_kind",
    "hazard_distance_m",
    "hand_shuts",
    *LOOPS,
)
"""Columns of the layer `stations` that the list is made from."""


@dataclass(frozen=True, slots=True)
class ListSettings:
    """How the short list is cut."""

    most: int = 5
    """Runs on it at most; our choice, 3-6."""
    least: int = 3
    """So many are listed where there are, however little the last is worth; our choice, 2-4."""
    worth_share: float = 0.25
    """Beyond `least`, a run worth less than this share of the best is left out; our choice,
    0.15-0.5."""
    least_m: float = LEAST_RUN_M
    """A run with less bank to fish from is none to go to: 40 yards; our choice, 25-45 m."""
    between_min: float = 10.0
    """From one run to the next [min]; our choice, 5-20."""
    hazard_near_m: float = 30.0
    """A drawn hazard this near one of its places is what to mind first [m]; our choice, 15-60."""
    deep_m: float = 0.6
    """Standing deeper than this is to be minded [m]: about the knee; our choice, 0.4-0.8."""
    room_low_m: float = 6.0
    """Less room behind than this is to be minded [m]; our choice, 4-9: no D-loop but a poke's."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A run at one flow that one can go to.

    `row` is that of the table of runs by flow, `worth` what it is ordered by, `station` the middle
    of its places along the river [m], `side` their bank, `minutes` the time for it, NaN where
    nobody knows.
    """

    row: int
    worth: float
    station: float
    side: str
    minutes: float


def list_choices(
    table: pd.DataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    outing: Outing,
    settings: ListSettings,
    factors: FloatArray | None = None,
) -> tuple[pd.DataFrame, dict[str, list[Choice]]]:
    """Return the table of runs by flow with the short list of each flow, and what it is cut from.

    Parameters
    ----------
    table
        From `runs_by_flow`, its minutes filled in by `pace_runs`.
    water, stations
        Those layers over the same flows, runs, ways back and hazards filled in.
    outing
        Who fishes.
    settings
        How many runs are listed.
    factors
        Factors on the worth of each row, shape (rows,), > 0, from the angler's log; None for 1.
        They are in no column: the table is handed on, and the log is private.

    Returns
    -------
    table, choices
        Columns `pick` to `mind` filled in; at each flow, by its label, the runs one can go to, from
        which `listed` cuts the list.

    Notes
    -----
    A run that cannot be fished is not on the list: `shut` has the one reason and `opens_m3_s` the
    nearest flow, as a ratio, at which it opens. Of the others the best that fit the hours are
    listed, on the bank where they are worth most together unless both can be reached, and numbered
    downstream. Runs reached only by boat are listed for those who come by boat, and marked.
    """
    stands = named_by_run(stations, water, STAND)
    rows = table.reset_index(drop=True)
    shut: list[Shut | None] = []
    mind: list[Mind | None] = []
    by_boat = np.zeros(len(rows), dtype=bool)
    choices: dict[str, list[Choice]] = {}
    worth = run_worth(rows) * (1.0 if factors is None else factors)
    for number, row in enumerate(rows.to_dict("records")):
        every = stands.of(str(row["run"]), str(row["flow_label"]))
        mine = fished_places(_on_bank(every, outing))
        why = _shut(row, mine, outing, settings)
        if why is Shut.STAND and len(every):  # there are places, all on the other bank
            why = _shut(row, fished_places(every), outing, settings) or Shut.BANK
        shut.append(why)
        by_boat[number] = _by_boat(mine)
        mind.append(_mind(mine, settings) if len(mine) else None)
        if why is None and math.isfinite(worth[number]):
            label = str(row["flow_label"])
            choice = Choice(
                number,
                float(worth[number]),
                float(np.median(mine["station_m"])),
                str(mine["side"][0]),
                _minutes(row),
            )
            choices.setdefault(label, []).append(choice)
    pick = np.zeros(len(rows), dtype=np.int64)
    for found in choices.values():
        for place, one in enumerate(listed(found, outing, settings), start=1):
            pick[one.row] = place
    filled = rows.assign(
        pick=pick,
        by_boat=by_boat,
        shut=pd.Series(shut, rows.index, "object"),
        opens_m3_s=_opens(rows, shut),
        mind=pd.Series(mind, rows.index, "object"),
    )
    return as_promised("runs_by_flow", filled), choices


def run_worth(table: pd.DataFrame) -> FloatArray:
    """Return what runs are worth by which they are ordered, shape (n,); NaN where not known.

    Their odds an hour; at a flow at which no run has any, as where no swing was worked out, the
    score of their water.
    """
    odds = table["odds_hour"].to_numpy(dtype=np.float64)
    score = table["score"].to_numpy(dtype=np.float64)
    known = pd.Series(np.nan_to_num(odds) > 0).groupby(table["flow_label"].to_numpy())
    return np.asarray(np.where(known.transform("any").to_numpy(), odds, score))


def listed(choices: Sequence[Choice], outing: Outing, settings: ListSettings) -> list[Choice]:
    """Return the runs of one flow's short list, downstream."""
    bank = outing.bank
    if bank is None and not outing.both_banks:
        bank = _better_bank(choices, outing, settings)
    mine = replace(outing, bank=bank)
    choices = [one for one in choices if mine.fishes_from(one.side)]
    return sorted(_best(choices, outing, settings), key=lambda one: one.station)


def _best(choices: Sequence[Choice], outing: Outing, settings: ListSettings) -> list[Choice]:
    """Return the best runs that fit the hours, as many as the list may hold."""
    kept: list[Choice] = []
    minutes = 0.0
    for one in sorted(choices, key=lambda one: (-one.worth, one.station)):
        poor = kept and one.worth < settings.worth_share * kept[0].worth
        if len(kept) >= settings.most or (poor and len(kept) >= settings.least):
            break
        more = one.minutes + (settings.between_min if kept else 0.0)
        if not math.isfinite(more) or (kept and minutes + more > 60.0 * outing.hours):
            continue
        kept.append(one)
        minutes += more
    return kept


def _better_bank(choices: Sequence[Choice], outing: Outing, settings: ListSettings) -> Side:
    """Return the bank on which the list is worth most."""
    sums = {
        side: sum(
            one.worth for one in _best([c for c in choices if c.side == side], outing, settings)
        )
        for side in (Side.LEFT, Side.RIGHT)
    }
    return max(sums, key=lambda side: sums[side])


def _minutes(row: Mapping[Any, Any]) -> float:
    """Return the time for a run [min]: for its prime stretch where there is one."""
    prime = float(row["prime_minutes"])
    return prime if math.isfinite(prime) else float(row["minutes"])


def _on_bank(stands: Rows, outing: Outing) -> Rows:
    """Return the places on the bank that this person fishes."""
    kept = np.array([outing.fishes_from(side) for side in stands["side"]], dtype=bool)
    return np.asarray(stands[kept])


def _shut(
    row: Mapping[Any, Any], mine: Rows, outing: Outing, settings: ListSettings
) -> Shut | None:
    """Return why a run cannot be fished at a flow; None where it can."""
    if row["why"] == Lack.UNKNOWN:
        return Shut.UNKNOWN
    if not row["in_shape"]:
        return Shut.SHAPE
    if not len(mine):
        return Shut.STAND
    if not present(mine["cast"]).any():
        return Shut.UNKNOWN if np.isnan(mine["room_m"]).any() else Shut.ROOM
    if _by_boat(mine) and not outing.boat:
        return Shut.WAY
    length = float(row["prime_end_m"]) - float(row["prime_start_m"])
    return Shut.SCRAP if length < settings.least_m else None


def _by_boat(mine: Rows) -> bool:
    """Return whether the places of a run can be reached only by boat; unknown counts as no."""
    return bool(len(mine) and (mine["access"] == WayIn.BOAT).all())


def _mind(mine: Rows, settings: ListSettings) -> Mind | None:
    """Return the one thing to mind at the places of a run, what matters most first."""
    far = mine["hazard_distance_m"]
    near = present(mine["hazard_kind"]) & (np.nan_to_num(far, nan=0.0) <= settings.hazard_near_m)
    if near.any():
        return Mind.HAZARD
    if np.isfinite(mine["cut_off_m3_s"]).any():
        return Mind.WAY_BACK
    if mine["hand_shuts"].any():
        return Mind.MORE_WATER
    if not (mine["depth_m"] <= settings.deep_m).all():
        return Mind.WADING
    room = known(mine["room_m"])
    loops = [mine[name] == CastFit.FITS for name in LOOPS]
    if not np.any(loops, axis=0).all() or (len(room) and room.min() < settings.room_low_m):
        return Mind.ROOM
    return None


def _opens(rows: pd.DataFrame, shut: Sequence[Shut | None]) -> FloatArray:
    """Return for each shut run the nearest flow, as a ratio, at which it is open; NaN none."""
    flow = rows["flow"].to_numpy(dtype=np.float64)
    run = rows["run"].to_numpy()
    found = np.full(len(rows), np.nan)
    is_open = np.array([one is None for one in shut], dtype=bool)
    for number in np.flatnonzero(~is_open):
        there = flow[is_open & (run == run[number])]
        if there.size:
            found[number] = there[np.argmin(np.abs(np.log(there / flow[number])))]
    return found
