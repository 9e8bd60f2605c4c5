"""Two more made rivers of other families of shapes: their true ground at any cell size.

Invented, formula by formula, like the sample river; no file is kept of them.
"""

from __future__ import annotations

from tests.reaches.braided import BRAIDED_FLOWS, braided_ground
from tests.reaches.steep import STEEP_FLOWS, steep_ground

__all__ = ["BRAIDED_FLOWS", "STEEP_FLOWS", "braided_ground", "steep_ground"]
