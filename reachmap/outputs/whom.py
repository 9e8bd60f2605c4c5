"""Variants of a map for different outings: on foot or by boat, from either bank."""

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
"""Choices of bank: the better one (None), or one of the two."""


@dataclass(frozen=True, slots=True)
class Whom:
    """The map for one outing.

    Parameters
    ----------
    outing
        On foot or by boat, the bank, the hours.
    runs
        The layer `runs`, with windows of flow by this outing's odds.
    table
        The table of runs by flow for this outing.
    choices
        By flow label, the reachable runs, from which the short list is made.
    cards
        Returns the facts of a run's card, by its name and the label of a flow.
    rules
        Rules of the short list.
    """

    outing: Outing
    runs: gpd.GeoDataFrame
    table: pd.DataFrame
    choices: Mapping[str, Sequence[Choice]]
    cards: Callable[[str, str], RunCard | None]
    rules: ListSettings


def other_outings(own: Outing) -> tuple[Outing, ...]:
    """Return the outings whose scores differ from those of the folder's own.

    Examples
    --------
    >>> [(one.boat, one.bank and one.bank.value) for one in other_outings(Outing())]
    [(False, 'left'), (False, 'right'), (True, None), (True, 'left'), (True, 'right')]
    """
    every = [replace(own, boat=boat, bank=bank) for boat in (False, True) for bank in BANKS]
    return tuple(one for one in every if (one.boat, one.bank) != (own.boat, own.bank))
