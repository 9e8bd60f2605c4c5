"""The door of a build for Python and the command line: checks what is asked, finds the place."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.writer import one_writer
from reachmap.markup.model import Markup
from reachmap.pipeline.asked import asked_flows, quoted_number
from reachmap.pipeline.order import Built, build_reach
from reachmap.pipeline.place import Place, place_for
from reachmap.pipeline.solving import Told
from reachmap.pipeline.stamp import CELLS, Options

__all__ = ["Built", "build", "build_placed"]


def build(  # noqa: PLR0913 - the public door, each a choice of its own
    reach: Markup,
    *,
    flows: Sequence[float] | None = None,
    out: Path | None = None,
    cell: float = 2.0,
    quick: bool = False,
    season: str | None = None,
    ensemble: bool = True,
    replace: bool = False,
) -> Built:
    """Work out every flow of a reach and write maps, GPS and GIS files.

    Parameters
    ----------
    reach
        As `reachmap.open_reach` returned it.
    flows
        Discharges [m3/s] instead of those of reach.toml.
    out
        Folder to write into; if not given, `written` in the reach folder, or `written-quick` where
        a fuller build stands there. `Built.folder` is the one written to.
    cell
        Side of a raster cell [m]: 1, 2 or 4.
    quick
        Whether to stay with the one-dimensional preview.
    season
        "winter" or "summer" instead of that of reach.toml.
    ensemble
        Whether a dozen grounds that the evidence allows are run, to tell how sure the map is.
    replace
        Whether a fuller build that stands in the folder is lost to this one.

    Raises
    ------
    ReachmapError
        If the angler can mend it; nothing half-written stays. `MarkupError` lists each fault of the
        flows.
    ValueError
        If the reach was not read from a folder and no `out` is given.
    """
    if reach.folder is None and out is None:
        msg = "the reach was not read from a folder: name one to write into"
        raise ValueError(msg)
    checked = asked_flows(flows, reach.plan.units)
    faults = _faults(cell, season)
    if faults:
        raise MarkupError(faults)
    options = Options(
        flows=checked, cell=float(cell), quick=quick, season=season, ensemble=ensemble
    )
    return build_placed(reach, out, options, replace=replace)[0]


def build_placed(
    reach: Markup,
    out: Path | None,
    options: Options,
    *,
    replace: bool = False,
    told: Told = lambda *_: None,
    workers: int = 1,
    scheduler: str = "",
) -> tuple[Built, Place]:
    """Build a reach where it belongs; return what was built and the place with its reason.

    The place is looked up again once the folder is held: another build may have ended there while
    this one waited.

    Parameters
    ----------
    reach, options, told, workers, scheduler
        As for `build_reach`.
    out, replace
        As for `place_for`.
    """
    place = place_for(reach.folder, out, options, replace=replace)
    while True:
        with one_writer(place.folder, "a build", waiting=lambda words: told(words, 0, 1)):
            now = place_for(reach.folder, out, options, replace=replace)
            if now.folder == place.folder:
                built = build_reach(
                    reach, now.folder, options, told=told, workers=workers, scheduler=scheduler
                )
                return built, now
        place = now


def _faults(cell: float, season: str | None) -> list[Fault]:
    """Return what is wrong with the other options of a build."""
    faults = []
    if isinstance(cell, bool) or cell not in CELLS:
        faults.append(Fault("cell", f"{quoted_number(cell)} is no size of cell", "Use 1, 2 or 4"))
    if season not in (None, "winter", "summer"):
        found = f"{quoted_number(season)} is not a season"
        faults.append(Fault("season", found, "Use winter or summer, or leave it out"))
    return faults
