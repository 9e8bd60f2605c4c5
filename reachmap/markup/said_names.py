"""What the names of files say that tracks and photos show; standard library only."""

from __future__ import annotations

import re

EDGE_NAME = re.compile(r"(^|[^a-z])(water)?(edges?|waterline)([^a-z]|$)", re.IGNORECASE)
FLOAT_NAME = re.compile(r"(^|[^a-z])(float|drift)(s|ed|ing)?([^a-z]|$)", re.IGNORECASE)
"""What a track is: walked along the water's edge, or drifted in a boat. Nothing else tells them
from a drive on the road or a way in."""

LEVEL_NAME = re.compile(
    r"(?:^|[^a-z])level[ _-]?(-?\d+(?:[.,]\d+)?)[ _-]?(ft|m)(?![a-z0-9])", re.IGNORECASE
)
"""The height of the water that a photo's name says: number and unit."""


def shows_water(stem: str) -> bool:
    """Return whether a photo's name, without its ending, makes it evidence of edge or level."""
    return bool(EDGE_NAME.search(stem) or LEVEL_NAME.search(stem))
