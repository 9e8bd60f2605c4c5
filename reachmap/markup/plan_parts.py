"""Parts of a plan besides the river: the outing, a GPS device, an echo sounder."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.words import Side


@dataclass(frozen=True, slots=True)
class Outing:
    """Who fishes on a day, and how: parameters of the short list of runs.

    `boat`: access by boat; `crossing`: banks can be changed on the way; `bank` is the bank fished
    from, None for the better one; `hours` the duration [h], walking included. `log_weight` is the
    weight of the log in the order of runs, 0 (none) to 1.
    """

    boat: bool = False
    crossing: bool = False
    bank: Side | None = None
    hours: float = 6.0
    log_weight: float = 0.0

    @property
    def both_banks(self) -> bool:
        """Return whether both banks can be reached in a day."""
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
    """Options of files for a GPS, and limits of the device.

    `symbols` selects the set of symbol names ("words", "nouns" or "none"), `own_symbols` are pairs
    of a group of places and the symbol name of the angler's own device. The rest are limits of the
    device: places and lines in a file, points in a line, characters of a text; 0 for none.
    """

    symbols: str = "words"
    own_symbols: tuple[tuple[str, str], ...] = ()
    most_places: int = 1000
    most_lines: int = 200
    most_points: int = 10_000
    longest_text: int = 1000


@dataclass(frozen=True, slots=True)
class SounderNote:
    """Settings of an echo sounder: depth of its transducer [m], and a flow [m3/s] or NaN."""

    transducer_m: float = 0.0
    flow: float = math.nan
