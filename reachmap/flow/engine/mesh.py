"""Data of the compiled kernels: named tuples of arrays, which numba compiles as they are.

Equation numbers in the kernels are those of docs/flow-engine.md. All kernels also run as plain
Python. A kernel of another file is compiled into those that call it: after a change in it delete
the compiled files of its callers in `__pycache__` (*.nbi, *.nbc).
"""

from __future__ import annotations

from typing import NamedTuple

from reachmap.base.arrays import BoolArray, CodeArray, Float32Array, FloatArray, IntArray

WALL = -1
"""In `Mesh.neighbours`: a face no water crosses. -2 - k: the open face k."""


class Mesh(NamedTuple):
    """Square cells as compact lists, sorted down the river.

    Parameters
    ----------
    bed
        Height of the ground, shape (cells,) [m].
    roughness2
        Square of Manning's n in deep water, shape (cells,) [s2/m^(2/3)].
    stone_term
        Of the stones (`base.resistance`), shape (cells,) [m^(5/3)]; 0: none.
    neighbours
        Cell to the west, east, south, north, shape (cells, 4); -1 a wall, -2 - k open face k.
    cell
        Side of a cell [m].
    """

    bed: FloatArray
    roughness2: FloatArray
    stone_term: FloatArray
    neighbours: IntArray
    cell: float


class BoundaryConditions(NamedTuple):
    """What each open face holds.

    Parameters
    ----------
    kind
        `INFLOW` (discharge per unit width) or `LEVEL` (water level), shape (faces,).
    value
        The discharge [m2/s] or the level [m], shape (faces,).
    direction
        Unit vector down the river there, east and north, shape (faces, 2).
    """

    kind: CodeArray
    value: FloatArray
    direction: FloatArray


class State(NamedTuple):
    """The water of a grid, and what is derived from it or drives it.

    Parameters
    ----------
    water
        Depth [m], east and north velocity [m/s], shape (cells, 3).
    half_slopes
        Change from the centre of a cell to its east face of depth [m], level [m], east and north
        velocity [m/s], then the same to its north face, shape (cells, 8).
    eddy_viscosity
        Eddy viscosity times depth [m3/s], shape (cells,).
    boundary
        What the open faces hold.
    sources
        Water let in from above [m/s], force over density east and north [m2/s2], shape (cells, 3);
        (0, 3) where there are none.
    """

    water: FloatArray
    half_slopes: Float32Array
    eddy_viscosity: Float32Array
    boundary: BoundaryConditions
    sources: FloatArray


class OpenFaces(NamedTuple):
    """Where the open faces are; arrays of shape (faces,).

    Parameters
    ----------
    owner, side
        Cell and side (0 west, 1 east, 2 south, 3 north) of each face.
    head
        Whether the face lies at the head (else at the foot).
    squareness
        Part of the face that stands across the river's direction there, 0 to 1.
    east, north
        Direction of the river there, a unit vector.
    reach
        Metres from the face down to the foot's station (foot faces).
    """

    owner: IntArray
    side: IntArray
    head: BoolArray
    squareness: FloatArray
    east: FloatArray
    north: FloatArray
    reach: FloatArray


class Sections(NamedTuple):
    """The cells cut into sections of equal length along the river.

    Parameters
    ----------
    section_of
        Section of each cell, shape (cells,).
    station
        Metres down the river line, shape (cells,).
    head
        Station of the upper end of the first section [m].
    length
        Length of a section [m].
    """

    section_of: IntArray
    station: FloatArray
    head: float
    length: float


class Refinement(NamedTuple):
    """How a fine list of cells lies in one twice as coarse.

    Parameters
    ----------
    parent
        Coarse cell that holds each fine one, -1 for none, shape (fine cells,).
    row, col
        Raster row and column of each fine cell, shape (fine cells,).
    neighbours
        Neighbours of each coarse cell, as in `Mesh`, shape (coarse cells, 4).
    """

    parent: IntArray
    row: IntArray
    col: IntArray
    neighbours: IntArray


class CoarseProblem(NamedTuple):
    """What a coarse grid solves for a fine one; (coarse cells, 3) but `active`.

    Parameters
    ----------
    water
        The coarse water, from I w at the start to the solution w_c.
    restricted
        I w, the mean of the fine water.
    forcing
        First I R(w), then the right side R_c(I w) - I R(w): mass [m/s], momentum [m2/s2].
    active
        Coarse cells that take part, shape (coarse cells,).
    """

    water: FloatArray
    restricted: FloatArray
    forcing: FloatArray
    active: BoolArray
