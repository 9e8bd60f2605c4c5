"""The aerial picture of a reach folder: finding the file and checking that it is usable."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rasterio.errors import RasterioError

from reachmap.base.errors import Fault
from reachmap.base.imagery import look_into
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, check_file
from reachmap.markup.files import matching, unfit_matches

SECTION = "reach.toml, [imagery] file"


def look_at_imagery(folder: Path, patterns: Sequence[str]) -> tuple[Path | None, list[Fault]]:
    """Return a reach folder's aerial picture and its faults.

    Parameters
    ----------
    folder
        The reach folder.
    patterns
        The name in reach.toml, or the default patterns where it gives none.
    """
    named = len(patterns) == 1
    faults = unfit_matches(folder, patterns, "imagery")
    found = matching(folder, patterns)
    if faults or not found:
        if named and not faults:
            missing = f"no file is called {patterns[0]}"
            faults = [Fault(SECTION, missing, "Correct the name, or take it out")]
        return None, faults
    if len(found) > 1:
        several = f"there are several: {', '.join(path.name for path in found)}"
        return None, [Fault("imagery", several, 'Name one in reach.toml: [imagery] file = "..."')]
    (path,) = found
    fault = _looked(path, folder)
    return (None, [fault]) if fault else (path, [])


def _looked(path: Path, folder: Path) -> Fault | None:
    """Return the fault of an unusable file; None for a usable one."""
    where = f"imagery {path.name}"
    try:
        check_file(path, FileKind.IMAGERY, folder)
        look_into(path)
    except RefusedError as error:
        return Fault(where, error.found, error.fix)
    except (RasterioError, OSError, ValueError) as error:
        fix = "Export it again, or take it out"
        return Fault(where, f"it cannot be read ({quoted(str(error), 120)})", fix)
    return None
