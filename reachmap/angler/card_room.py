"""What a run's card says of the room behind its places."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

from reachmap.base.words import UnitSystem
from reachmap.markup.kit import Kit
from reachmap.text.numbers import length_words


def room_line(stands: gpd.GeoDataFrame, kit: Kit, units: UnitSystem) -> str:
    """Return the card's line on room behind and the longest head; what is unknown is no number.

    Parameters
    ----------
    stands
        The run's places at one flow, at least one.
    kit
        Heads owned.
    units
        The reach folder's units.
    """
    room, head = stands["room_m"].dropna(), stands["head_max_m"].dropna()
    if room.empty:
        return "Room behind: not known; nobody mapped what stands there. Look before you cast."
    span, blind = span_words(room, units), len(stands) - len(room)
    owned = max(one.length_m for one in kit.heads)
    longest = "no head fits"
    if len(head) == len(stands) and float(head.quantile(0.2)) >= owned:
        longest = "every head you own fits"
    elif len(head):
        longest = f"longest head that fits {span_words(head, units)}"
    if blind:
        return (
            f"Room behind: not known at {blind} of {len(stands)} places, look before you cast; at "
            f"the others {span}, +-20 %; {longest}."
        )
    return f"Room behind {span}, +-20 %; {longest}."


def span_words(values: pd.Series, units: UnitSystem) -> str:
    """Return a span of lengths in words, the middle of what there is."""
    low, high = (float(values.quantile(q)) for q in (0.2, 0.8))
    a, b = length_words(low, units), length_words(high, units)
    return a if a == b else f"{a.split(' ')[0]}-{b}"
