"""How outputs are written: what the angler may choose of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit


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
        A key of `sheet.paper.PAPERS`; empty for the one that goes with the folder's units.
    site
        Whether the maps are written as an installable page too, for a host of the angler's own.
    zarr
        Whether the fields are written as Zarr stores too; wants the optional library.
    pdf
        Whether sheets are written as PDF too; wants the optional library.
    """

    labels: tuple[str, ...] | None = None
    tile_url: str = ""
    tile_credit: str = ""
    long_names: bool = False
    paper: str = ""
    pdf: bool = False
    site: bool = False
    zarr: bool = False


def is_tile_address(address: str) -> bool:
    """Return whether an address is one of imagery tiles: http, plain host, places for z, x, y."""
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    plain = re.fullmatch(r"(?:\{s\}\.)?[A-Za-z0-9.-]+(?::[0-9]+)?", parts.netloc)
    holds = all(part in address for part in ("{z}", "{x}", "{y}"))
    return bool(plain) and holds and parts.scheme in ("http", "https")


PLAIN = Choices()
"""What is written where nobody chose."""
