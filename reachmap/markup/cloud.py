"""Heights of cover from a classified lidar point cloud (LAS or LAZ), where the drawing gives none.

Read by laspy (extra `cloud`) in chunks; only returns on the wanted banks are kept. Classes are
those of the ASPRS standard, LAS 1.4 R15, table 17: 2 ground, 7 and 18 noise.
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
from scipy.spatial import cKDTree
from shapely import Polygon

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.crs import height_unit_m, is_placed, transform_points
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, check_file
from reachmap.markup.features import Feature
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found

CHUNK = 1_000_000
"""Points read at a time."""

MOST_KEPT = 3_000_000
"""Most returns kept (our choice: 200 MB); of more, every second is kept, and so on."""

GROUND, NOISE = 2, (7, 18)
"""Classes of ASPRS LAS."""

AROUND_M = 6.0
"""Ground returns this far around a bank count [m] (our choice: dense cover hides the ground)."""

CELL_M = 2.0
"""Side of the cells whose highest return is the cover's height [m] (our choice, 1-4)."""

LEAST_M = 0.3
"""Lower returns are stones and ground noise [m] (our choice, 0.2-0.5)."""

HIGH_SHARE = 90.0
"""Percentile of the cells' heights taken as the cover's height [%] (our choice, 75-95: what a back
cast meets, without a single tall tree)."""

FEWEST_CELLS = 5
"""Fewest cells with cover that give a height (our choice)."""

WITHOUT = "it needs a library that is not installed", "pip install 'reachmap[cloud]'"


@dataclass(frozen=True, slots=True)
class CloudRead:
    """The banks with the heights found, notes, and the use made of each file."""

    banks: tuple[Feature, ...]
    notes: tuple[str, ...]
    facts: tuple[FileFact, ...]


def with_cover_heights(
    banks: Sequence[Feature], found: Sequence[Found], folder: Path, crs: str
) -> CloudRead:
    """Return the banks, missing cover heights filled from the cloud's returns.

    Parameters
    ----------
    banks
        Features of that layer.
    found
        The point clouds of the folder.
    folder
        Reach folder that the files must lie in.
    crs
        The project's CRS, "" where it is not known.
    """
    wanted = [k for k, one in enumerate(banks) if _lacks_height(one)]
    facts: list[FileFact] = []
    parts: list[FloatArray] = []
    shapes = [banks[k].shape for k in wanted]
    for one in found:
        try:
            returns = returns_near(one.path, folder, shapes, crs) if wanted and crs else None
        except RefusedError as error:
            wrong = replace(one.fact, use=Use.NOTHING, why=Unused.REFUSED)
            facts.append(replace(wrong, detail=error.found, fix=error.fix))
            continue
        if returns is None or not returns.size:
            why = Unused.ELSEWHERE if returns is not None else Unused.NO_NEED
            facts.append(replace(one.fact, use=Use.NOTHING, why=why))
            continue
        parts.append(returns)
        facts.append(replace(one.fact, number=len(returns)))
    if not parts:
        return CloudRead(tuple(banks), (), tuple(facts))
    merged = np.vstack(parts)
    filled, names = list(banks), []
    for k in wanted:
        height = cover_height(merged, banks[k].shape)
        if math.isfinite(height):
            filled[k] = replace(banks[k], values={**banks[k].values, "cover_height": height})
            names.append(f"{banks[k].values['name'] or banks[k].where} {height:.1f} m")
    note = f"Heights of cover from the point cloud: {', '.join(names)}."
    return CloudRead(tuple(filled), (note,) if names else (), tuple(facts))


def cover_height(returns: FloatArray, outline: Polygon) -> float:
    """Return the height of a bank's cover above its ground [m]; NaN with too few returns.

    Each return's height is taken above the nearest ground return; each cell takes its highest
    return, and the result is the `HIGH_SHARE` percentile of the cells with cover.

    Parameters
    ----------
    returns
        East, north, height [m] and 1 for ground or 0, shape (n, 4).
    outline
        The bank's outline.
    """
    near = shapely.contains_xy(outline.buffer(AROUND_M), returns[:, 0], returns[:, 1])
    mine = returns[near]
    ground, above = mine[mine[:, 3] == 1], mine[mine[:, 3] == 0]
    above = above[shapely.contains_xy(outline, above[:, 0], above[:, 1])]
    if not len(ground) or not len(above):
        return math.nan
    _, nearest = cKDTree(ground[:, :2]).query(above[:, :2])
    height = above[:, 2] - ground[nearest, 2]
    cells = np.floor(above[:, :2] / CELL_M).astype(np.int64)
    _, which = np.unique(cells, axis=0, return_inverse=True)
    top = np.full(int(which.max()) + 1, -np.inf)
    np.maximum.at(top, which.ravel(), height)
    top = top[top >= LEAST_M]
    return float(np.percentile(top, HIGH_SHARE)) if top.size >= FEWEST_CELLS else math.nan


def _lacks_height(bank: Feature) -> bool:
    """Return whether a valid bank has a cover without a height."""
    known = bank.shape is not None and bank.values["cover"] is not None
    return known and math.isnan(bank.values["cover_height"])


def returns_near(path: Path, folder: Path, shapes: Sequence[Any], crs: str) -> FloatArray:
    """Return a cloud's returns on and around shapes, as for `cover_height`, without noise.

    Raises
    ------
    RefusedError
        If it cannot be read, names no CRS, or has no ground returns.
    """
    check_file(path, FileKind.TERRAIN, folder)
    try:
        laspy = importlib.import_module("laspy")
    except ImportError:
        raise RefusedError(*WITHOUT) from None
    around = shapely.union_all(shapes).buffer(AROUND_M)
    shapely.prepare(around)
    kept: list[FloatArray] = []
    grounds = 0
    try:
        with laspy.open(str(path.resolve()), read_evlrs=False) as reader:
            own = _crs_of(reader.header)
            unit = height_unit_m(own)
            thin = max(1, -(-reader.header.point_count // (20 * MOST_KEPT)))
            for chunk in reader.chunk_iterator(CHUNK):
                part = _points(chunk, thin)
                grounds += int((part[:, 3] == 1).sum())
                x, y = transform_points(part[:, 0], part[:, 1], own, crs)
                part[:, 0], part[:, 1], part[:, 2] = x, y, part[:, 2] * unit
                kept.append(part[shapely.contains_xy(around, x, y)])
                if sum(map(len, kept)) > MOST_KEPT:
                    kept = [np.vstack(kept)[::2]]
    except RefusedError:
        raise
    except _failures(laspy) as error:
        msg = f"it cannot be read ({quoted(str(error), 120)})"
        raise RefusedError(msg, "Copy or export it again, or take it out") from None
    if not grounds:
        msg = "none of its returns is classified as ground (class 2)"
        raise RefusedError(msg, "Classify its ground in a lidar program, or bring a DEM")
    return np.vstack(kept) if kept else np.empty((0, 4))


def _points(chunk: Any, thin: int) -> FloatArray:
    """Return east, north, height and whether ground of a chunk's points, noise left out."""
    kind = np.asarray(chunk.classification)[::thin]
    good: BoolArray = ~np.isin(kind, NOISE)
    columns = [np.asarray(axis, dtype=np.float64)[::thin] for axis in (chunk.x, chunk.y, chunk.z)]
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
