"""For whom a map's list is made: everyone who may fish it, with the facts that are theirs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import pandas as pd

from reachmap.angler.card_facts import RunCard
from reachmap.angler.short_list import Choice, ListSettings
from reachmap.base.words import Side
from reachmap.markup.plan_parts import Outing

BANKS = (None, Side.LEFT, Side.RIGHT)
"""Banks one may fish: the better one, or one of the two."""


@dataclass(frozen=True, slots=True)
class Whom:
    """The map as it is for one who fishes.

    Parameters
    ----------
    outing
        On foot or by boat, the bank, the hours.
    runs
        The layer `runs`, flow windows by this person's odds.
    table
        The table of runs by flow for them.
    choices
        By the label of a flow, the runs they can go to, from which the short list is cut.
    cards
        Gives the facts of a run's card, by its name and the label of a flow.
    rules
        How the list is cut.
    """

    outing: Outing
    runs: gpd.GeoDataFrame
    table: pd.DataFrame
    choices: Mapping[str, Sequence[Choice]]
    cards: Callable[[str, str], RunCard | None]
    rules: ListSettings


def outings_beside(own: Outing) -> tuple[Outing, ...]:
    """Return the outings that have another score than the folder's own.

    Examples
    --------
    >>> [(one.boat, one.bank and one.bank.value) for one in outings_beside(Outing())]
    [(False, 'left'), (False, 'right'), (True, None), (True, 'left'), (True, 'right')]
    """
    every = [replace(own, boat=boat, bank=bank) for boat in (False, True) for bank in BANKS]
    return tuple(one for one in every if (one.boat, one.bank) != (own.boat, own.bank))
