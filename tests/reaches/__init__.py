"""Five more made rivers of other families of shapes: their true ground at any cell size.

Invented, formula by formula, like the sample river; no file is kept of them.
"""

from __future__ import annotations

from tests.reaches.braided import BRAIDED_FLOWS, braided_ground
from tests.reaches.islands import ISLANDS_FLOWS, islands_ground
from tests.reaches.ledges import LEDGES_FLOWS, ledges_ground
from tests.reaches.steep import STEEP_FLOWS, steep_ground
from tests.reaches.winding import WINDING_FLOWS, winding_ground

__all__ = [
    "BRAIDED_FLOWS",
    "ISLANDS_FLOWS",
    "LEDGES_FLOWS",
    "STEEP_FLOWS",
    "WINDING_FLOWS",
    "braided_ground",
    "islands_ground",
    "ledges_ground",
    "steep_ground",
    "winding_ground",
]
