"""Names for the arrays that pass between stages."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
"""Array of 64-bit floats; NaN means unknown."""

Float32Array: TypeAlias = NDArray[np.float32]
"""Array of 32-bit floats, for what needs no more than a few digits."""

IntArray: TypeAlias = NDArray[np.int32]
"""Array of 32-bit integers; -1 means none."""

CodeArray: TypeAlias = NDArray[np.uint8]
"""Array of small codes (cover, wet)."""

BoolArray: TypeAlias = NDArray[np.bool_]
"""Array of truth values: a mask."""
