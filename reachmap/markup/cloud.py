"""Crowns, gaps and heights of cover from a classified lidar point cloud (LAS or LAZ).

Read by laspy (extra `cloud`) in chunks, gathered on a grid around the river. Classes are those of
the ASPRS standard, LAS 1.4 R15, table 17: 2 ground, 7 and 18 noise.
"""

from __future__ import annotations

import importlib
import math
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.crs import height_unit_m, is_placed, transform_points
from reachmap.base.grid import Grid
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, check_file
from reachmap.markup.canopy import CELL_M, LEAST_M, Canopy, Returns
from reachmap.markup.features import Feature
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found

CHUNK = 1_000_000
"""Points read at a time."""

GROUND, NOISE = 2, (7, 18)
"""Classes of ASPRS LAS."""

AROUND_M = 40.0
"""Returns this far around banks and river line count (our choice: beyond the longest D-loop and the
margin of the ground) [m]."""

HIGH_SHARE = 90.0
"""Percentile of the cells' heights taken as the cover's height [%] (our choice, 75-95: what a back
cast meets, without a single tall tree)."""

FEWEST_CELLS = 5
"""Fewest cells with cover that give a height (our choice)."""

WITHOUT = "it needs a library that is not installed", "pip install 'reachmap[cloud]'"

FROM_CLOUD = "cover_from_cloud"
"""Value of a bank whose height of cover is that of the returns."""


@dataclass(frozen=True, slots=True)
class CloudRead:
    """The banks with the heights found, crowns and gaps, notes, and what became of each file."""

    banks: tuple[Feature, ...]
    canopy: Canopy | None
    notes: tuple[str, ...]
    facts: tuple[FileFact, ...]


def read_clouds(
    banks: Sequence[Feature],
    rivers: Sequence[BaseGeometry],
    found: Sequence[Found],
    folder: Path,
    crs: str,
) -> CloudRead:
    """Return what stands along the river, and the banks with its height where they have none.

    Parameters
    ----------
    banks
        Features of that layer.
    rivers
        Drawn river lines.
    found
        The point clouds of the folder.
    folder
        Reach folder that the files must lie in.
    crs
        The project's CRS, "" where it is not known.
    """
    facts: list[FileFact] = []
    shapes = [*(one.shape for one in banks if one.shape is not None), *rivers]
    placed = bool(crs and shapes)
    gathered = returns_on(shapely.union_all(shapes).buffer(AROUND_M), crs) if placed else None
    for one in found:
        try:
            count = 0 if gathered is None else add_returns(gathered, one.path, folder)
        except RefusedError as error:
            wrong = replace(one.fact, use=Use.NOTHING, why=Unused.REFUSED)
            facts.append(replace(wrong, detail=error.found, fix=error.fix))
            continue
        if not count:
            facts.append(replace(one.fact, use=Use.NOTHING, why=Unused.ELSEWHERE))
            continue
        facts.append(replace(one.fact, number=count))
    canopy = None if gathered is None or not found else gathered.canopy()
    if canopy is None:
        return CloudRead(tuple(banks), None, (), tuple(facts))
    filled, names = list(banks), []
    on_banks = [heights_on(canopy, one.shape) for one in banks if one.shape is not None]
    share = np.isfinite(np.concatenate(on_banks)).mean() if on_banks else 0.0
    notes = [
        f"The room behind reads crowns and gaps from the point cloud on {share:.0%} of the banks; "
        "elsewhere the bank's own height stands. No height that you gave is lowered."
    ]
    for k, bank in enumerate(banks):
        height = cover_height(canopy, bank.shape) if _lacks_height(bank) else math.nan
        if math.isfinite(height):
            told = {"cover_height": height, FROM_CLOUD: True}
            filled[k] = replace(bank, values={**bank.values, **told})
            names.append(f"{bank.values['name'] or bank.where} {height:.1f} m")
    if names:
        notes.append(f"Heights of cover from the point cloud: {', '.join(names)}.")
    return CloudRead(tuple(filled), canopy, tuple(notes), tuple(facts))


def cover_height(canopy: Canopy, outline: Polygon) -> float:
    """Return how high the cover of a bank stands above its ground [m]; NaN where nothing tells.

    Of the cells with cover the `HIGH_SHARE` percentile.
    """
    top = heights_on(canopy, outline)
    top = top[top >= LEAST_M]
    return float(np.percentile(top, HIGH_SHARE)) if top.size >= FEWEST_CELLS else math.nan


def heights_on(canopy: Canopy, outline: Polygon) -> FloatArray:
    """Return the heights of the cells within an outline [m]; NaN where unknown."""
    west, south, east, north = outline.bounds
    x, y = np.meshgrid(
        np.arange(west // CELL_M * CELL_M + CELL_M / 2, east, CELL_M),
        np.arange(south // CELL_M * CELL_M + CELL_M / 2, north, CELL_M),
    )
    inside = shapely.contains_xy(outline, x, y)
    return canopy.at(x[inside], y[inside])


def _lacks_height(bank: Feature) -> bool:
    """Return whether a valid bank has a cover without a height."""
    known = bank.shape is not None and bank.values["cover"] is not None
    return known and math.isnan(bank.values["cover_height"])


def returns_on(area: BaseGeometry, crs: str) -> Returns:
    """Return an empty gathering of returns over an area in the project's CRS."""
    return Returns(Grid.around(area.bounds, CELL_M, crs))


def add_returns(gathered: Returns, path: Path, folder: Path) -> int:
    """Add a cloud's returns, none of noise, and return how many lie on the grid.

    Raises
    ------
    RefusedError
        If it cannot be read, says no CRS, or has no ground returns; then nothing is added.
    """
    check_file(path, FileKind.TERRAIN, folder)
    try:
        laspy = importlib.import_module("laspy")
    except ImportError:
        raise RefusedError(*WITHOUT) from None
    mine = Returns(gathered.grid)
    grounds = count = 0
    try:
        with laspy.open(str(path.resolve()), read_evlrs=False) as reader:
            own = _crs_of(reader.header)
            unit = height_unit_m(own)
            for chunk in reader.chunk_iterator(CHUNK):
                part = _points(chunk)
                grounds += int((part[:, 3] == 1).sum())
                x, y = transform_points(part[:, 0], part[:, 1], own, gathered.grid.crs)
                count += mine.add(np.column_stack([x, y, part[:, 2] * unit, part[:, 3]]))
    except RefusedError:
        raise
    except _failures(laspy) as error:
        msg = f"it cannot be read ({quoted(str(error), 120)})"
        raise RefusedError(msg, "Copy or export it again, or take it out") from None
    if not grounds:
        msg = "none of its returns is classified as ground (class 2)"
        raise RefusedError(msg, "Classify its ground in a lidar program, or bring a DEM")
    gathered.join(mine)
    return count


def _points(chunk: Any) -> FloatArray:
    """Return east, north, height and whether ground of a chunk's points, noise left out."""
    kind = np.asarray(chunk.classification)
    good: BoolArray = ~np.isin(kind, NOISE)
    columns = [np.asarray(axis, dtype=np.float64) for axis in (chunk.x, chunk.y, chunk.z)]
    return np.column_stack([*columns, (kind == GROUND).astype(np.float64)])[good]


def _crs_of(header: Any) -> str:
    """Return a cloud's CRS as WKT.

    Raises
    ------
    RefusedError
        If it names none, or one that is no CRS of the Earth.
    """
    crs = header.parse_crs()
    wkt = "" if crs is None else str(crs.to_wkt())
    if not wkt or not is_placed(wkt):
        msg = "it does not say its CRS"
        raise RefusedError(msg, "Export it again with its CRS")
    return wkt


def _failures(laspy: Any) -> tuple[type[BaseException], ...]:
    """Return the exceptions the library raises for unreadable files."""
    own = (laspy.errors.LaspyException,)
    plain = (OSError, ValueError, RuntimeError, struct.error, MemoryError, OverflowError)
    return (*own, *plain, LookupError, TypeError, AttributeError)


def cloud_files(found: Sequence[Found]) -> Iterator[Found]:
    """Yield the point clouds of a folder."""
    return (one for one in found if one.fact.use is Use.CLOUD)
