"""What the names of files say that tracks and photos show; standard library only."""

from __future__ import annotations

import re

EDGE_NAME = re.compile(r"(^|[^a-z])(water)?(edges?|waterline)([^a-z]|$)", re.IGNORECASE)
FLOAT_NAME = re.compile(r"(^|[^a-z])(float|drift)(s|ed|ing)?([^a-z]|$)", re.IGNORECASE)
"""What a track is: walked along the water's edge, or drifted in a boat. Nothing else tells them
from a drive on the road or a way in."""
