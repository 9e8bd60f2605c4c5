"""The library's `Reach`: a drawing with its kit, gauge and log, and the calls that map it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from reachmap.base.leftovers import sweep_fits
from reachmap.base.progress import Progress
from reachmap.base.writer import one_writer
from reachmap.gauge.model import Gauge
from reachmap.ground import GroundSettings
from reachmap.logbook.model import Entry
from reachmap.logbook.store import kept_in
from reachmap.markup.kit import Kit
from reachmap.markup.model import Markup
from reachmap.markup.read import read_markup
from reachmap.outputs.picture import reach_picture
from reachmap.pipeline.any_flow import map_reach
from reachmap.pipeline.build_reach import checked_options
from reachmap.pipeline.fitted import StoredFit, write_fitted
from reachmap.pipeline.fitting import fit_reach
from reachmap.pipeline.stamp import Options, written_folder
from reachmap.pipeline.suggestions import suggested
from reachmap.reach.days import DaysAsked, coming_days
from reachmap.reach.maps import ReachMap

if TYPE_CHECKING:
    from reachmap.planner.days import Days

LOG_COLUMNS = (
    "when", "run", "flow", "flow_from", "clarity_m", "water_c", "minutes", "swung", "touches",
    "landed", "released", "x", "y", "photo", "note", "station_m", "bank",
)  # fmt: skip
"""Columns of `Reach.log`, as the fields of `logbook.model.Entry`."""


def open_reach(path: str | Path) -> Reach:
    """Return a reach folder, read and checked.

    Parameters
    ----------
    path
        The folder, or the reach.toml in it.

    Raises
    ------
    MarkupError
        Listing every fault of reach.toml, drawing, DEM and gauge files, each with its place and
        how to mend it.
    """
    drawing = read_markup(path)
    if drawing.folder is None:
        msg = f"{path}: the drawing was read without its folder"
        raise RuntimeError(msg)
    return Reach(drawing.folder, drawing)


@dataclass(frozen=True, eq=False, repr=False)
class Reach:
    """A reach folder, read and checked.

    Parameters
    ----------
    folder
        The reach folder.
    drawing
        All that the angler drew and wrote, in a metric CRS and SI.
    """

    folder: Path
    drawing: Markup

    @property
    def name(self) -> str:
        """Return the name of the reach."""
        return self.drawing.plan.name

    @property
    def crs(self) -> str:
        """Return the projected metric CRS of every geometry and raster."""
        return self.drawing.crs

    @property
    def flows(self) -> tuple[float, ...]:
        """Return the flows to map, of reach.toml [m3/s], rising."""
        return self.drawing.plan.flows

    @property
    def kit(self) -> Kit:
        """Return the person, rods, heads and tips."""
        return self.drawing.plan.kit

    @property
    def gauge(self) -> Gauge | None:
        """Return record, rating and measurements of the gauge; None where there are no files."""
        return self.drawing.gauge

    @property
    def log(self) -> pd.DataFrame:
        """Return the trips kept, oldest first, as on disk now.

        Columns `LOG_COLUMNS`: `flow` [m3/s], `clarity_m` [m], `water_c` [C], `minutes`, `x` and `y`
        in WGS84 [degrees], `station_m` [m]; NaN where nothing was written down.
        """
        rows = [{name: getattr(entry, name) for name in LOG_COLUMNS} for entry in self._entries()]
        return pd.DataFrame(rows, columns=list(LOG_COLUMNS))

    @property
    def notes(self) -> tuple[str, ...]:
        """Return sentences on what was assumed while reading the folder."""
        return self.drawing.assumed

    def map(  # noqa: PLR0913 - each a choice of its own
        self,
        flows: Sequence[float] | None = None,
        *,
        cell: float | None = None,
        quick: bool = False,
        season: str | None = None,
        wind: str = "calm",
        clarity_m: float | None = None,
        water_c: float | None = None,
        ensemble: bool = True,
        progress: Progress | None = None,
        workers: int = 1,
    ) -> ReachMap:
        """Map the reach at flows; results of the stages are kept in `written/cache` of the folder.

        Parameters
        ----------
        flows
            Discharges [m3/s]; None for those of reach.toml.
        cell
            Side of a raster cell [m]: 0.5, 1, 2 or 4; None to have it chosen by the river's width.
        quick
            Whether to stay with the one-dimensional preview.
        season
            "winter" or "summer"; None for that of reach.toml.
        wind
            "calm", "upstream", "downstream", "left", "right", or a forecast like "SW 12 mph".
        clarity_m
            Visibility in the water [m]; None for that of reach.toml.
        water_c
            Temperature of the water [C]; None for that of reach.toml or of the folder's record.
        ensemble
            Whether a dozen grounds that the evidence allows are run, for the uncertainty.
        progress
            Progress callback (step, done, total).
        workers
            Processes that may read flows side by side; a script that gives more than 1 must be
            importable without mapping (`if __name__ == "__main__"`).

        Raises
        ------
        ReachmapError
            If the angler can mend it; `MarkupError` lists each fault of the flows.
        """
        chosen = Options(
            cell=cell,
            quick=quick,
            season=season,
            wind=wind,
            clarity_m=clarity_m,
            water_c=water_c,
            ensemble=ensemble,
        )
        options = checked_options(self.drawing.plan.units, flows, chosen)
        target = written_folder(self.folder, None)
        mapped = map_reach(
            self.drawing, target, options, progress=progress or _silent, workers=workers
        )
        return ReachMap(mapped, mapped.product)

    def days(
        self,
        days: int = 5,
        *,
        asked: DaysAsked | None = None,
        progress: Progress | None = None,
        workers: int = 1,
    ) -> Days:
        """Return the coming days, each judged, the best named; builds first what is not built.

        Parameters
        ----------
        days
            How many, 1 to 14.
        asked
            Forecast, notes, clarity, clock and the rest, instead of `days`.
        progress, workers
            As for `map`.
        """
        wanted = DaysAsked(days) if asked is None else asked
        return coming_days(self.folder, None, wanted, progress=progress or _silent, workers=workers)

    def fit(self, *, keep: bool = False, progress: Progress | None = None) -> StoredFit:
        """Fit roughness and depth to every note: edges, soundings, speeds, levels and the log.

        Parameters
        ----------
        keep
            Whether the fit is written into the folder, for later maps to use. The drawing is never
            changed.
        progress
            Progress callback (step, done, total).

        Raises
        ------
        BuildError
            If no ground can be made, or there is nothing to fit to.
        HeldError
            If it is to be kept and a build is under way that does not end soon.
        """
        callback = progress or _silent
        callback("fitting to the notes", 0, 1)
        kept = fit_reach(self.drawing, self._entries(), GroundSettings())
        if keep:
            target = written_folder(self.folder, None)
            with one_writer(target, "a fit", waiting=lambda words: callback(words, 0, 1)):
                sweep_fits(self.folder)  # a build under way reads its inputs again when it ends
                write_fitted(self.folder, kept)
        return kept

    def suggest(self) -> gpd.GeoDataFrame:
        """Return the places where one note would sharpen the map most, the most helpful first.

        From the last build where it is up to date, else by the preview on cells of 4 m. Columns of
        the layer `asks` of `base.tables.LAYERS`.

        Raises
        ------
        BuildError
            If no ground can be made of the folder.
        """
        return suggested(self.folder, self.drawing)[0]

    def __repr__(self) -> str:
        """Return the name, the length and what was drawn."""
        drawn = self.drawing
        return (
            f"<Reach {self.name!r}: {drawn.main.line.length:.0f} m of river, {len(drawn.banks)} "
            f"banks, {len(drawn.soundings)} soundings, {len(drawn.dems)} DEM files, {self.crs}>"
        )

    def _repr_html_(self) -> str:
        """Return a small drawing of the reach for a notebook."""
        return reach_picture(self.drawing)

    def _entries(self) -> list[Entry]:
        """Return the entries of the log, oldest first."""
        return kept_in(self.folder)


def _silent(step: str, done: int, total: int) -> None:
    """Ignore progress: the default callback (step, done, total)."""
