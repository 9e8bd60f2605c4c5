"""How the flows are run: on this machine or on a scheduler, and what has to be compiled first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from reachmap.base.errors import BuildError, Fault
from reachmap.flow import FlowSettings

if TYPE_CHECKING:
    from reachmap.flow.engine.pieces import Mapper

COMPILING = "compiling, first run only"


def mapper_for(scheduler: str, settings: FlowSettings) -> Mapper | None:
    """Return the mapper that runs the flows' tasks on a scheduler; None for this machine.

    Raises
    ------
    BuildError
        If the extra is not installed, no scheduler or worker answers, or nothing can be spread.
    """
    if not scheduler:
        return None
    if settings.method != "engine":
        found = "the quick preview has nothing to spread over machines"
        raise BuildError([Fault("--scheduler", found, "Leave out either --scheduler or --quick")])
    from reachmap.flow.engine.scheduler import on_scheduler  # its kernels take seconds to load

    return on_scheduler(scheduler)


def must_compile(settings: FlowSettings) -> bool:
    """Return whether the flow's kernels are still to be compiled on this machine.

    numba keeps what it compiled in files; they hold as long as the kernel's own file is older.
    """
    if settings.method == "engine":
        from reachmap.flow.engine import _kernels_implicit  # loaded only where needed, as above

        return _is_stale(_kernels_implicit.sweep, Path(_kernels_implicit.__file__))
    from reachmap.flow import _kernels

    return _is_stale(_kernels.standard_step, Path(_kernels.__file__))


def must_compile_readers() -> bool:
    """Return whether the kernels that read the water are still to be compiled on this machine."""
    from reachmap.angler import _kernels_swing  # loaded only where needed, as above

    return _is_stale(_kernels_swing.swing_lines, Path(_kernels_swing.__file__))


def _is_stale(kernel: Any, source: Path) -> bool:
    """Return whether numba has no file of a kernel, or one older than its source."""
    stats = getattr(kernel, "stats", None)  # a plain function where compiling is switched off
    if stats is None:
        return False
    name = kernel.py_func.__name__
    files = list(Path(stats.cache_path).glob(f"{source.stem}.{name}-*.nbi"))
    return not any(file.stat().st_mtime >= source.stat().st_mtime for file in files)
