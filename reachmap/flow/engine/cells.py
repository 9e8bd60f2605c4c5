"""The active cells (those that can get wet) as compact lists sorted down the river."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.flow.engine._kernels_grid import label_connected
from reachmap.flow.engine.mesh import WALL, Mesh, OpenFaces, Refinement

SIDES = ((0, -1), (0, 1), (-1, 0), (1, 0))
"""Row and column steps to the west, east, south and north neighbour where rows run north."""
END_CELLS = 4.0
"""Open faces lie on cells whose station is within this many cells of the end. Our choice: a
staircase across a line at any angle is at most 1.5 cells deep; farther off the line is another
limb's."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The ground raster with a margin of one cell all round; arrays (y, x), rows run north.

    Parameters
    ----------
    bed, rough
        Ground height [m], NaN where unknown, and Manning's n in deep water.
    station, offset
        Metres down the main line and from it.
    inside
        Cells between head and foot whose bed is known and may get wet.
    head, foot
        Stations of the ends [m].
    cell
        Side of a cell [m].
    x, y
        Centre of the first cell, in the margin's south-west corner [m].
    stone_term
        Of the stones (`base.resistance`) [m^(5/3)]; None: there are none.
    """

    bed: FloatArray
    rough: FloatArray
    station: FloatArray
    offset: FloatArray
    inside: BoolArray
    head: float
    foot: float
    cell: float
    x: float = 0.0
    y: float = 0.0
    stone_term: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class Cells:
    """Compact cells, sorted down the river so that neighbours lie close in memory.

    Parameters
    ----------
    row, col
        Place of each cell in the raster with its margin, shape (cells,).
    shape
        Of that raster.
    mesh
        What the kernels need of the cells.
    station, offset
        Metres down the main line and from it, shape (cells,).
    faces
        The open faces at head and foot.
    head, foot
        Stations of the ends [m].
    """

    row: IntArray
    col: IntArray
    shape: tuple[int, int]
    mesh: Mesh
    station: FloatArray
    offset: FloatArray
    faces: OpenFaces
    head: float
    foot: float

    @property
    def bed(self) -> FloatArray:
        """Return the height of the ground, shape (cells,) [m]."""
        return self.mesh.bed

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return self.mesh.cell

    @property
    def count(self) -> int:
        """Return the number of cells."""
        return int(self.row.size)

    def spread(self, values: FloatArray, fill: float = np.nan) -> FloatArray:
        """Return a raster of the cells' values with `fill` elsewhere; rows run north."""
        raster = np.full(self.shape, fill)
        raster[self.row, self.col] = values
        return raster

    def connected(self, wet: BoolArray) -> IntArray:
        """Return the number of each cell's component of connected wet cells, 0 where dry."""
        name = np.empty(self.count, np.int32)
        label_connected(wet, self.mesh.neighbours, name)
        return name

    def refinement_of(self, coarse: Cells) -> Refinement:
        """Return how these cells lie in a twice as coarse list."""
        number = np.full(coarse.shape, -1, np.int32)
        number[coarse.row, coarse.col] = np.arange(coarse.count, dtype=np.int32)
        parent = number[(self.row - 1) // 2 + 1, (self.col - 1) // 2 + 1]
        return Refinement(parent, self.row, self.col, coarse.mesh.neighbours)

    def down_river(self) -> tuple[FloatArray, FloatArray]:
        """Return the direction down the river in each cell, east and north; 0 where unknown."""
        directions: list[FloatArray] = []
        for before, after in ((0, 1), (2, 3)):
            sides = (self.mesh.neighbours[:, side] for side in (before, after))
            ends = [np.where(cell >= 0, cell, np.arange(self.count)) for cell in sides]
            directions.append(self.station[ends[1]] - self.station[ends[0]])
        size = np.hypot(*directions)
        with np.errstate(invalid="ignore", divide="ignore"):
            east, north = (np.where(size > 0, way / size, 0.0) for way in directions)
        return east, north


def cells_of(
    frame: Frame, direction_head: tuple[float, float], direction_foot: tuple[float, float]
) -> Cells:
    """Return the compact cells of a frame and their open faces.

    Parameters
    ----------
    frame
        The raster; at least one inside cell, none in the margin.
    direction_head, direction_foot
        Unit vectors down the river at its ends (east, north).

    Notes
    -----
    A face towards a cell that is not inside is a wall, unless it is crossed by the line of
    the first or last station: there the river enters or leaves. At any angle to the raster these
    faces form a staircase; a face takes its share by how squarely it stands across the river, and
    the shares of a staircase add up to the true width.
    """
    row, col = (place.astype(np.int32) for place in np.nonzero(frame.inside))
    along = np.round(frame.station[row, col] / frame.cell)
    order = np.lexsort((frame.offset[row, col], along))
    row, col = row[order], col[order]
    rows, cols = frame.inside.shape
    number = np.full((rows, cols), -1, np.int32)
    number[row, col] = np.arange(row.size, dtype=np.int32)
    neighbours = np.stack([number[row + dr, col + dc] for dr, dc in SIDES], axis=1)
    faces = _open_faces(frame, row, col, neighbours, direction_head, direction_foot)
    neighbours = np.where(neighbours < 0, WALL, neighbours).astype(np.int32)
    neighbours[faces.owner, faces.side] = -2 - np.arange(faces.owner.size, dtype=np.int32)
    mesh = Mesh(
        bed=np.ascontiguousarray(frame.bed[row, col]),
        roughness2=np.ascontiguousarray(frame.rough[row, col] ** 2),
        stone_term=np.zeros(row.size)
        if frame.stone_term is None
        else np.ascontiguousarray(frame.stone_term[row, col]),
        neighbours=np.ascontiguousarray(neighbours),
        cell=float(frame.cell),
    )
    return Cells(
        row=row,
        col=col,
        shape=(rows, cols),
        mesh=mesh,
        station=frame.station[row, col],
        offset=frame.offset[row, col],
        faces=faces,
        head=frame.head,
        foot=frame.foot,
    )


def _open_faces(
    frame: Frame,
    row: IntArray,
    col: IntArray,
    neighbours: IntArray,
    direction_head: tuple[float, float],
    direction_foot: tuple[float, float],
) -> OpenFaces:
    """Return the open faces: where a face's far side lies beyond an end of the line."""
    here = frame.station[row, col]
    found: list[tuple[IntArray, IntArray, BoolArray, FloatArray, FloatArray]] = []
    for side, (dr, dc) in enumerate(SIDES):
        there = _beyond(frame.station, row, col, dr, dc)
        bare = neighbours[:, side] < 0
        near_head = here < frame.head + END_CELLS * frame.cell
        near_foot = here > frame.foot - END_CELLS * frame.cell
        for is_head, near, out, way in (
            (True, near_head, there <= frame.head, direction_head),
            (False, near_foot, there >= frame.foot, direction_foot),
        ):
            square = (way[0] * dc + way[1] * dr) * (-1.0 if is_head else 1.0)
            owner = np.flatnonzero(bare & near & out & (square > 0.02)).astype(np.int32)
            found.append(
                (
                    owner,
                    np.full(owner.size, side, np.int32),
                    np.full(owner.size, is_head),
                    np.full(owner.size, square),
                    frame.foot - 0.5 * (here + there)[owner],
                )
            )
    owner, side_no, head, squareness, reach = (
        np.concatenate(parts) for parts in zip(*found, strict=True)
    )
    return OpenFaces(
        owner=owner,
        side=side_no,
        head=head,
        squareness=squareness,
        east=np.where(head, direction_head[0], direction_foot[0]),
        north=np.where(head, direction_head[1], direction_foot[1]),
        reach=reach,
    )


def _beyond(station: FloatArray, row: IntArray, col: IntArray, dr: int, dc: int) -> FloatArray:
    """Return the station of the next cell to a side, carried on straight where it is not known."""
    there = station[row + dr, col + dc]
    here, back = station[row, col], station[row - dr, col - dc]
    straight = 2 * here - back
    return np.where(np.isfinite(there), there, straight)
