"""Options of the output writers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from reachmap.outputs.reuse import Reuse


@dataclass(frozen=True, slots=True)
class Choices:
    """Options of the writers; none of them changes a computed number.

    Parameters
    ----------
    labels
        Flows to write; all where not given. Maps, GIS files and table always hold all.
    tile_url, tile_credit
        URL of the angler's own imagery tiles, with {z}, {x} and {y}, and their attribution; empty
        for none. Only then does a page load anything from the network.
    long_names
        Whether names in GPX are in words instead of at most six characters.
    paper
        A key of `sheet.paper.PAPERS`; empty for the one that goes with the folder's units.
    site
        Whether the maps are also written as an installable page, for the angler's own web host.
    zarr
        Whether the fields are also written as Zarr stores; needs the optional library.
    pdf
        Whether sheets are also written as PDF; needs the optional library.
    reuse
        Carries over files of the last build that would be written alike; None: all are written.
    """

    labels: tuple[str, ...] | None = None
    tile_url: str = ""
    tile_credit: str = ""
    long_names: bool = False
    paper: str = ""
    pdf: bool = False
    site: bool = False
    zarr: bool = False
    reuse: Reuse | None = None


def is_tile_address(address: str) -> bool:
    """Return whether a URL is a template of imagery tiles: http, plain host, {z}, {x} and {y}."""
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    plain = re.fullmatch(r"(?:\{s\}\.)?[A-Za-z0-9.-]+(?::[0-9]+)?", parts.netloc)
    holds = all(part in address for part in ("{z}", "{x}", "{y}"))
    return bool(plain) and holds and parts.scheme in ("http", "https")


PLAIN = Choices()
"""Default options."""
