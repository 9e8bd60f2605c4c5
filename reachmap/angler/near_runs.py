"""Drawn hazards near the water of a run, and the places to stand left out for them."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

from reachmap.base.words import HazardWay


def near_of(near: gpd.GeoDataFrame | None, codes: pd.Series) -> pd.DataFrame:
    """Return the hazards near pieces of water, each hazard once, what matters most first.

    Parameters
    ----------
    near
        The layer `hazards_near` at one flow; None where there is none.
    codes
        Codes of the pieces.

    Returns
    -------
    pandas.DataFrame
        Columns named as a station's (`hazard_kind` and so on), `number` and `left_out`, the sum
        over the pieces; way and distance are those of the first way in the order of `HazardWay`,
        its least distance.
    """
    names = {
        "kind": "hazard_kind",
        "note": "hazard_note",
        "distance_m": "hazard_distance_m",
        "way": "hazard_way",
        "toward": "hazard_toward",
    }
    kept = ["number", *names.values(), "left_out"]
    if near is None or near.empty:
        return pd.DataFrame(columns=kept)
    mine = pd.DataFrame(near[near["water"].isin(codes)]).rename(columns=names)
    order = [way.value for way in HazardWay]
    mine = mine.assign(order=[order.index(str(way)) for way in mine["hazard_way"]])
    sums = mine.groupby("number")["left_out"].sum()
    first = mine.sort_values(["order", "hazard_distance_m"]).drop_duplicates("number")
    first = first.assign(
        left_out=first["number"].map(sums),
        far=first["order"] == order.index(HazardWay.STRAIGHT.value),
    )
    return first.sort_values(["far", "hazard_distance_m"])[kept].reset_index(drop=True)


def left_out_by_kind(near: pd.DataFrame) -> dict[str, int]:
    """Return how many places were left out by kind of hazard, from `near_of`'s rows."""
    counts = near["left_out"].groupby(near["hazard_kind"].astype(str)).sum()
    return {str(kind): int(count) for kind, count in counts.items() if count > 0}


def looked_everywhere(water: gpd.GeoDataFrame, stands: gpd.GeoDataFrame) -> bool:
    """Return whether every hazard could be looked for from every piece and place of a run.

    Parameters
    ----------
    water, stands
        The run's rows of those layers at one flow.
    """
    known = stands["looked_m"].notna()
    return bool(len(known) and known.all() and water["code"].isin(stands["water"]).all())
