"""Where notes would help most, found without a build: by the quick preview on large cells."""

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
from reachmap.pipeline.ensemble import class_doubts, weigh
from reachmap.pipeline.fitted import read_fitted
from reachmap.pipeline.looked_ground import CELL_M, looked_ground
from reachmap.pipeline.noted import noted_reach
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options, asked_before, current_report, settled_folder
from reachmap.uncertainty.survey import survey_layer


def built_asks(folder: Path, out: Path) -> gpd.GeoDataFrame | None:
    """Return the places a build listed, if that build is still what building again would give."""
    try:
        report = current_report(folder, out, asked_before(out))
        if report is None or not report["ensemble"]:
            return None
        with open_vector(out / "gis" / "results.gpkg", out) as file:
            return as_promised("asks", file.read("asks").drop(columns="note"))
    except (RefusedError, OSError, ValueError, KeyError, json.JSONDecodeError):
        return None


def looked_asks(reach: Markup, ground: xr.Dataset | None = None) -> gpd.GeoDataFrame:
    """Return the places where notes would help most, by the 1-D preview on cells of 4 m.

    Parameters
    ----------
    reach
        The drawing.
    ground
        From `looked_ground`; made here where it is None.

    Raises
    ------
    BuildError
        If no honest ground or flow can be made: what a build would tell too.
    """
    settings = settings_for(reach, Options(quick=True, cell=CELL_M))
    kept = read_fitted(reach.folder)
    if ground is None:
        ground = looked_ground(reach)
    flowing = solve(ground, list(settings.flows), settings.flow)
    try:
        doubt = weigh(reach, ground, flowing, settings, kept)
    except BuildError:  # a build would be made without the ensemble: nothing to put right
        doubt = None
    rough = class_doubts(kept, settings.ground)
    return survey_layer(ground, flowing, doubt, noted_reach(reach), settings.ground, rough)


def suggested(
    folder: Path, reach: Markup, ground: xr.Dataset | None = None
) -> tuple[gpd.GeoDataFrame, bool]:
    """Return the places where notes would help most, and whether they are from a build.

    Parameters
    ----------
    folder, reach
        The reach folder and its drawing.
    ground
        From `looked_ground`, if it was made already.

    Raises
    ------
    BuildError
        If no ground can be made of the folder.
    """
    built = built_asks(folder, settled_folder(folder, None))
    return (looked_asks(reach, ground), False) if built is None else (built, True)
