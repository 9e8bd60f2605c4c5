"""How the engine's kernels are compiled; with NUMBA_DISABLE_JIT=1 they run as plain Python.

A kernel of another file is compiled into those that call it: after a change in it delete the
compiled files of its callers in `__pycache__` (*.nbi, *.nbc).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., object])

OPTIONS: Final[dict[str, Any]] = {
    "cache": True,
    "error_model": "numpy",
    "nogil": True,
    # Freedoms that keep NaN and infinity: fused multiply-add, sign of zero, division as product.
    "fastmath": {"contract", "nsz", "arcp"},
}
NO_ARRAYS: Final[dict[str, Any]] = {**OPTIONS, "_nrt": False}


def kernel(function: Function) -> Function:
    """Compile a kernel that makes no arrays.

    Reference counts are off: each array taken out of a named tuple would be counted, which makes
    the sweep 1.5 times slower (measured).
    """
    return cast("Function", njit(**NO_ARRAYS)(function))


def inlined_kernel(function: Function) -> Function:
    """Compile a kernel that makes no arrays and is always written into its caller.

    For the two largest parts of the sweep, which would be called with some eighty arguments, the
    arrays' parts: 2.3 times slower (measured).
    """
    return cast("Function", njit(**NO_ARRAYS, inline="always")(function))


def allocating_kernel(function: Function) -> Function:
    """Compile a kernel that makes arrays."""
    return cast("Function", njit(**OPTIONS)(function))
