"""What a run's card says of drawn hazards, of places left out, and of a little more water."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.hazard_words import HazardWay, hazard_sentence, left_out_words
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import distance_words, length_words

MOST_NAMED = 3
"""Most hazards named on a card; one straight off only where nothing else is. Our choice."""
EVERY_PLACE = "Every place to stand is left out for a drawn hazard."


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
    counts = near.groupby("hazard_kind")["left_out"].sum() if len(near) else pd.Series(dtype=int)
    return {str(kind): int(count) for kind, count in counts.items() if count > 0}


def looked_everywhere(water: gpd.GeoDataFrame, stands: gpd.GeoDataFrame) -> bool:
    """Return whether every hazard could be looked for from every piece and place of a run.

    Parameters
    ----------
    water, stands
        The run's rows of those layers at one flow.
    """
    known = stands["looked_m"].astype(float).notna() if len(stands) else pd.Series(dtype=bool)
    return bool(len(known) and known.all() and water["code"].isin(stands["water"]).all())


def hazard_line(near: pd.DataFrame, *, looked: bool, look_m: float, units: UnitSystem) -> str:
    """Return the card's line on drawn hazards and on places left out for them.

    Parameters
    ----------
    near
        From `near_of`.
    looked
        Whether all was looked at: only then is it said that none is drawn.
    look_m
        How far was looked [m].
    units
        The reach folder's units.
    """
    within = distance_words(look_m, units)
    out = left_out_words(left_out_by_kind(near))
    if near.empty and looked:
        return (
            f"Hazards: none is drawn within {within} of this run, its stands, the way in and the "
            "current below. Look for yourself."
        )
    if near.empty:
        return (
            f"Hazards: not all known. None drawn was met, but the way in or the current below "
            f"could not be followed for {within}. Look for yourself."
        )
    named = [hazard_sentence(row, units) for row in near.head(MOST_NAMED).to_dict("records")]
    more = f"; and {len(near) - MOST_NAMED} more" if len(near) > MOST_NAMED else ""
    return f"Hazards: {'; '.join(named)}{more}." + (f" {out}" if out else "")


def none_left_words(near: pd.DataFrame) -> str:
    """Return that every place of a run was left out for a hazard; empty if none was left out."""
    return EVERY_PLACE if left_out_by_kind(near) else ""


def more_water_words(stands: gpd.GeoDataFrame, rise_m: float, units: UnitSystem) -> str:
    """Return what a hand's breadth more water does to a run's places, in one sentence.

    Parameters
    ----------
    stands
        The run's places at one flow: `hand_shuts`, `hand_flow_m3_s` [m3/s].
    rise_m
        How much more water [m].
    units
        The reach folder's units.
    """
    if stands.empty:
        return ""
    shut, count = int(np.sum([bool(one) for one in stands["hand_shuts"]])), len(stands)
    flow = float(stands["hand_flow_m3_s"].astype(float).min())
    at = f"about {flow_words(flow, units)}" if np.isfinite(flow) else "at a flow not mapped"
    words = f"A hand's breadth more water ({length_words(rise_m, units)}, {at})"
    if not shut:
        return f"{words} leaves its places and the way back within your limits."
    places = "its only place" if count == 1 else f"{shut} of {count} places"
    places = f"all {count} places" if 1 < count == shut else places
    return f"{words} shuts {places}, or the way in or back."
