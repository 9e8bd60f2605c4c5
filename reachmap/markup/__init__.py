"""The drawing of a reach: model, readers, checks and writer.

`read_markup` reads a reach folder. It is imported lazily, so that `reachmap.markup.files`, which
needs the standard library only, loads fast.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reachmap.markup.read import read_markup

__all__ = ["read_markup"]


def __getattr__(name: str) -> Any:
    """Import `read_markup` on first access."""
    if name in __all__:
        return getattr(import_module("reachmap.markup.read"), name)
    msg = f"module 'reachmap.markup' has no attribute {name!r}"
    raise AttributeError(msg)
