"""Names of runs kept in the written folder's cache, so that the next build gives the same."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr

from reachmap.base.cache import write_aside
from reachmap.base.centreline import Centreline
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words import Side
from reachmap.water.bends import bends_of
from reachmap.water.lasting_names import NamedStretch, kept_names, named_stretches
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import Sections, sections_of

FILE = "run_names.json"
"""Name of the file in the cache folder."""


def names_before(
    folders: Iterable[Path], ground: xr.Dataset, crs: str, settings: WaterSettings
) -> dict[int, str]:
    """Return the names of stretches that the last build gave, by their number now.

    Parameters
    ----------
    folders
        Cache folders, best first; the first with names counts.
    ground, crs, settings
        The ground stage's Dataset, its CRS, and the rules that cut the main line.
    """
    for folder in folders:
        old = _read(folder / FILE, crs)
        if old:
            return kept_names(old, Centreline.of(ground), sections_along(ground, settings))
    return {}


def keep_names(
    folder: Path, runs: gpd.GeoDataFrame, ground: xr.Dataset, crs: str, settings: WaterSettings
) -> Path:
    """Write the names of the runs of stretches into a cache folder, whole or not at all.

    Names given before to stretches that are no run today stay.
    """
    line, sections = Centreline.of(ground), sections_along(ground, settings)
    names = names_before([folder], ground, crs, settings)
    made = runs[runs["stretch"] > 0]
    names |= {int(n): str(name) for n, name in zip(made["stretch"], made["run"], strict=True)}
    rows = [
        {"name": one.name, "side": one.side.value, "start": start, "end": end}
        for one, (start, end) in _placed(named_stretches(names, line, sections), crs, WGS84)
    ]
    text = json.dumps({"stretches": rows}, indent=1)
    folder.mkdir(parents=True, exist_ok=True)
    return write_aside(folder / FILE, lambda path: path.write_text(text, encoding="utf-8"))


def sections_along(ground: xr.Dataset, settings: WaterSettings) -> Sections:
    """Return the sections of the main line, with the default names of its stretches."""
    line = Centreline.of(ground)
    return sections_of(line.head, line.foot, bends_of(ground, settings.bends), settings)


def _read(path: Path, crs: str) -> list[NamedStretch]:
    """Return the stretches of a file in a CRS; none where it is not there or not whole."""
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))["stretches"]
        found = [
            NamedStretch(
                str(row["name"]), Side(row["side"]), _pair(row["start"]), _pair(row["end"])
            )
            for row in rows
        ]
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return [
        NamedStretch(one.name, one.side, start, end)
        for one, (start, end) in _placed(found, WGS84, crs)
    ]


def _pair(values: Sequence[float]) -> tuple[float, float]:
    """Return a place."""
    x, y = values
    return float(x), float(y)


def _placed(
    stretches: Sequence[NamedStretch], source: str, target: str
) -> list[tuple[NamedStretch, tuple[tuple[float, float], tuple[float, float]]]]:
    """Return stretches with their ends in another CRS."""
    if not stretches:
        return []
    ends = np.array([(*one.start, *one.end) for one in stretches]).reshape(-1, 2)
    x, y = transform_points(ends[:, 0], ends[:, 1], source, target)
    places = np.column_stack([x, y]).reshape(-1, 2, 2)
    return [
        (one, (_pair(place[0]), _pair(place[1])))
        for one, place in zip(stretches, places, strict=True)
    ]
