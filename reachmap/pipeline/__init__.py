"""Floor 7: the order of the stages, the cache, nothing else."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reachmap.pipeline.build_reach import Built, build

__all__ = ["Built", "build"]


def __getattr__(name: str) -> Any:
    """Fetch the heavy names when first asked for, so that an unchanged build answers at once."""
    if name in __all__:
        return getattr(import_module("reachmap.pipeline.build_reach"), name)
    msg = f"module 'reachmap.pipeline' has no attribute {name!r}"
    raise AttributeError(msg)
