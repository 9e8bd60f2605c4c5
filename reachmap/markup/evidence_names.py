"""File names that mark a track or photo as evidence; standard library only."""

from __future__ import annotations

import re

EDGE_NAME = re.compile(r"(^|[^a-z])(water)?(edges?|waterline)([^a-z]|$)", re.IGNORECASE)
FLOAT_NAME = re.compile(r"(^|[^a-z])(float|drift)(s|ed|ing)?([^a-z]|$)", re.IGNORECASE)
"""Kind of a track: walked along the water's edge, or drifted in a boat. Nothing else distinguishes
them from a drive on the road or a way in."""

LEVEL_NAME = re.compile(
    r"(?:^|[^a-z])level[ _-]?(-?\d+(?:[.,]\d+)?)[ _-]?(ft|m)(?![a-z0-9])", re.IGNORECASE
)
"""The water level given in a photo's name: number and unit."""


def shows_water(stem: str) -> bool:
    """Return whether a photo's name, without extension, marks it as evidence of edge or level."""
    return bool(EDGE_NAME.search(stem) or LEVEL_NAME.search(stem))
