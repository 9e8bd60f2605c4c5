"""reachmap: a home river, flow by flow, for people who swing flies with two-handed rods.

`open_reach` reads a reach folder and returns a `Reach`; `Reach.map` returns a `ReachMap`. Progress
and the time of each stage are logged under the name "reachmap" at level INFO.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from reachmap.base import version

if TYPE_CHECKING:
    from reachmap.base.errors import BuildError, Fault, MarkupError, ReachmapError
    from reachmap.reach.days import DaysAsked
    from reachmap.reach.maps import ReachMap
    from reachmap.reach.opened import Reach, open_reach
    from reachmap.reach.sample import sample_folder

__version__ = version.VERSION

_HOMES = {
    "BuildError": "reachmap.base.errors",
    "DaysAsked": "reachmap.reach.days",
    "Fault": "reachmap.base.errors",
    "MarkupError": "reachmap.base.errors",
    "Reach": "reachmap.reach.opened",
    "ReachMap": "reachmap.reach.maps",
    "ReachmapError": "reachmap.base.errors",
    "open_reach": "reachmap.reach.opened",
    "sample_folder": "reachmap.reach.sample",
}

__all__ = [
    "BuildError",
    "DaysAsked",
    "Fault",
    "MarkupError",
    "Reach",
    "ReachMap",
    "ReachmapError",
    "__version__",
    "open_reach",
    "sample_folder",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for (PEP 562), so that import stays quick."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    msg = f"module 'reachmap' has no attribute {name!r}"
    raise AttributeError(msg)


def __dir__() -> list[str]:
    """Return the public names, imported or not."""
    return sorted({*globals(), *__all__})
