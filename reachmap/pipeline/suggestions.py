"""Survey suggestions (where a note would help most), from the last build or from a preview."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas as gpd
import xarray as xr

from reachmap.base.errors import BuildError
from reachmap.base.safe_files import RefusedError
from reachmap.base.schema import as_promised
from reachmap.base.vectors import open_vector
from reachmap.flow import solve
from reachmap.markup.model import Markup
from reachmap.pipeline.ensemble import class_sds, weigh
from reachmap.pipeline.fitted import read_fitted
from reachmap.pipeline.noted import noted_reach
from reachmap.pipeline.preview_ground import CELL_M, preview_ground
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options, current_report, settled_folder, stored_options
from reachmap.uncertainty.survey import survey_layer


def stored_suggestions(folder: Path, out: Path) -> gpd.GeoDataFrame | None:
    """Return the suggestions of the last build; None where it is out of date or has none."""
    try:
        report = current_report(folder, out, stored_options(out))
        if report is None or not report["ensemble"]:
            return None
        with open_vector(out / "gis" / "results.gpkg", out) as file:
            return as_promised("asks", file.read("asks").drop(columns="note"))
    except (RefusedError, OSError, ValueError, KeyError, json.JSONDecodeError):
        return None


def preview_suggestions(reach: Markup, ground: xr.Dataset | None = None) -> gpd.GeoDataFrame:
    """Return survey suggestions from the one-dimensional preview on cells of 4 m.

    Parameters
    ----------
    reach
        The drawing.
    ground
        From `preview_ground`; made here where it is None.

    Raises
    ------
    BuildError
        If no honest ground or flow can be made: a build would fail alike.
    """
    settings = settings_for(reach, Options(quick=True, cell=CELL_M))
    kept = read_fitted(reach.folder)
    if ground is None:
        ground = preview_ground(reach)
    flowing = solve(ground, list(settings.flows), settings.flow)
    try:
        uncertainty = weigh(reach, ground, flowing, settings, kept)
    except BuildError:  # a build would be made without the ensemble: nothing to put right
        uncertainty = None
    rough = class_sds(kept, settings.ground)
    return survey_layer(ground, flowing, uncertainty, noted_reach(reach), settings.ground, rough)


def suggested(
    folder: Path, reach: Markup, ground: xr.Dataset | None = None
) -> tuple[gpd.GeoDataFrame, bool]:
    """Return survey suggestions, and whether they are from a build.

    Parameters
    ----------
    folder, reach
        The reach folder and its drawing.
    ground
        From `preview_ground`, if it was made already.

    Raises
    ------
    BuildError
        If no ground can be made of the folder.
    """
    built = stored_suggestions(folder, settled_folder(folder, None))
    return (preview_suggestions(reach, ground), False) if built is None else (built, True)
