"""reachmap: a home river, flow by flow, for people who swing flies with two-handed rods."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reachmap.markup import open_reach
    from reachmap.pipeline import build

__version__ = "0.1.0"
__all__ = ["__version__", "build", "open_reach"]

_HOMES = {"build": "reachmap.pipeline", "open_reach": "reachmap.markup"}


def __getattr__(name: str) -> Any:
    """Fetch the public names when they are first asked for, so that `--help` stays quick."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    msg = f"module 'reachmap' has no attribute {name!r}"
    raise AttributeError(msg)
