"""Compiled resistance of stones in shallow water, for kernels that work cell by cell."""

from __future__ import annotations

from numba import njit

from reachmap.base.resistance import EXCESS_MOST


@njit(cache=True, error_model="numpy")
def shallow_excess(term: float, depth: float, root: float) -> float:
    """Return the share by which n^2 exceeds that of deep water, as `resistance.shallow_excess`.

    Parameters
    ----------
    term
        Of the stones [m^(5/3)]; 0: Manning's formula as it is.
    depth
        Of the water [m], > 0.
    root
        Its cube root [m^(1/3)], which callers need besides.
    """
    if term <= 0.0:
        return 0.0
    return min(term / (depth * root * root), EXCESS_MOST)
