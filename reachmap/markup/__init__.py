"""What the angler drew: model, readers, checks and writer.

`read_markup` reads a reach folder. It is imported when first asked for, so that
`reachmap.markup.files`, which needs the standard library only, answers at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reachmap.markup.read import read_markup

__all__ = ["read_markup"]


def __getattr__(name: str) -> Any:
    """Fetch the door when it is first asked for."""
    if name in __all__:
        return getattr(import_module("reachmap.markup.read"), name)
    msg = f"module 'reachmap.markup' has no attribute {name!r}"
    raise AttributeError(msg)
