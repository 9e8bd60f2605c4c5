"""Parts of a plan that do not tell of the river: the outing, a GPS device, an echo sounder."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.words import Side


@dataclass(frozen=True, slots=True)
class Outing:
    """Who fishes on a day: what the short list of runs is made for.

    `boat` says whether one comes by boat, `crossing` whether one can change banks on the way;
    `bank` is the bank one fishes from, None for the better one; `hours` how long [h], ways
    included. `log_weight` says how much the log counts in the order of runs, 0 not at all to 1.
    """

    boat: bool = False
    crossing: bool = False
    bank: Side | None = None
    hours: float = 6.0
    log_weight: float = 0.0

    @property
    def both_banks(self) -> bool:
        """Return whether one gets to both banks in a day."""
        return self.boat or self.crossing

    def fishes_from(self, side: str) -> bool:
        """Return whether one fishes from a bank by its word: all where none is named, and islands.

        Examples
        --------
        >>> [Outing(bank=Side.LEFT).fishes_from(side) for side in Side]
        [True, False, True]
        """
        return self.bank is None or side in (self.bank, Side.ISLAND)


@dataclass(frozen=True, slots=True)
class Gps:
    """How files for a GPS are written, and what the device keeps.

    `symbols` says which words stand for symbols ("words", "nouns" or "none"), `own_symbols` pairs
    of a group of places and the word that the angler's own device shows for it. The rest are limits
    of the device: places and lines in a file, points in a line, signs of a text; 0 for none.
    """

    symbols: str = "words"
    own_symbols: tuple[tuple[str, str], ...] = ()
    most_places: int = 1000
    most_lines: int = 200
    most_points: int = 10_000
    longest_text: int = 1000


@dataclass(frozen=True, slots=True)
class SounderNote:
    """What reach.toml says of an echo sounder: how deep it hangs [m], and a flow [m3/s] or NaN."""

    transducer_m: float = 0.0
    flow: float = math.nan
