"""Floor 1: reads, checks and writes what the angler drew.

`open_reach` is the door. It is fetched when first asked for, so that `reachmap.markup.files`, which
needs the standard library only, answers at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reachmap.markup.read import open_reach

__all__ = ["open_reach"]


def __getattr__(name: str) -> Any:
    """Fetch the door when it is first asked for."""
    if name in __all__:
        return getattr(import_module("reachmap.markup.read"), name)
    msg = f"module 'reachmap.markup' has no attribute {name!r}"
    raise AttributeError(msg)
