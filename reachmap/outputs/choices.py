"""How outputs are written: what the angler may choose of them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choices:
    """Choices for the writers; none of them changes a number.

    Parameters
    ----------
    labels
        Flows to write; all where not given. Maps, GIS files and table always hold all.
    tile_url, tile_credit
        Address of the angler's own imagery tiles, with {z}, {x} and {y}, and whose they are; empty
        for none. Only then does a page ask the network for anything.
    long_names
        Whether names in GPX are in words instead of at most six signs.
    paper
        "half-letter" or "a5"; empty for the one that goes with the folder's units.
    pdf
        Whether sheets are written as PDF too; wants the optional library.
    """

    labels: tuple[str, ...] | None = None
    tile_url: str = ""
    tile_credit: str = ""
    long_names: bool = False
    paper: str = ""
    pdf: bool = False


PLAIN = Choices()
"""What is written where nobody chose."""
