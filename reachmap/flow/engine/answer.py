"""Result of the solve at one flow: rasters on the ground's grid, and notes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.errors import Fault, FlowFault
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import joined_to
from reachmap.base.words import Wet
from reachmap.flow.engine import _kernels_reach
from reachmap.flow.engine.bend import WARN_ABOVE, bend_number, roughness2_at
from reachmap.flow.engine.cells import Frame
from reachmap.flow.engine.grid_solver import GridSolver
from reachmap.flow.engine.grids import joined_to_river
from reachmap.flow.engine.steady import Reached
from reachmap.flow.notes import FlowNote, NoteKind

PREVIEW = "ask for the quick preview, or leave this flow out"


@dataclass(frozen=True, slots=True)
class Solved:
    """One flow's answer on the ground's raster, rows as in the ground; NaN where not wet."""

    wet: PackedRaster
    level: PackedRaster
    depth: PackedRaster
    east: PackedRaster
    north: PackedRaster
    reached: Reached
    notes: tuple[FlowNote, ...]


def answer(
    frame: Frame,
    solver: GridSolver,
    reached: Reached,
    flow: float,
    curvature: FloatArray,
    width: FloatArray,
) -> Solved:
    """Return the solver's water on the ground's raster.

    Parameters
    ----------
    frame
        The whole raster (not only the cells that may get wet), rows north.
    solver, reached
        The solved water and how well it is solved.
    flow
        Discharge [m3/s].
    curvature, width
        Curvature of the line through each cell [1/m] and width of the river there [m], for the bend
        number; shape (cells,).
    """
    cells, water = solver.cells, solver.water
    wet = water[:, 0] > solver.settings.wet_m
    wet &= joined_to_river(solver, wet)
    row, col, running = cells.row[wet], cells.col[wet], water[wet]
    level = running[:, 0] + cells.bed[wet]
    codes = _wet_codes(frame, row, col, level)
    height, width_cells = (size - 2 for size in frame.bed.shape)
    at = (height - row) * width_cells + col - 1  # the ground's rows run south, without the margin
    order = np.argsort(at)
    here = at[order].astype(np.int32)

    def packed(values: FloatArray) -> PackedRaster:
        return PackedRaster((height, width_cells), np.array(np.nan), here, values[order])

    surface, depth, east, north = (packed(one) for one in (level, *running.T))
    code = PackedRaster.of(codes[1:-1, 1:-1][::-1])
    notes = _notes(flow, reached, solver) + _bend_notes(flow, solver, wet, curvature, width)
    unknown = int(((codes == Wet.UNKNOWN) & frame.inside).sum())
    if unknown:
        area = unknown * cells.cell**2
        notes.append(FlowNote(NoteKind.UNKNOWN_GROUND, flow, None, (area,)))
    return Solved(code, surface, depth, east, north, reached, tuple(notes))


def _wet_codes(frame: Frame, row: IntArray, col: IntArray, level: FloatArray) -> CodeArray:
    """Return codes of `Wet`: unknown beyond the known ground and on low ground open to it.

    `row`, `col` and `level` [m] are those of the wet cells. Low ground lies below the level of the
    wet cell nearest to it.
    """
    codes = np.where(frame.inside, Wet.NO, Wet.UNKNOWN).astype(np.uint8)
    if row.size == 0:
        return codes
    low, perhaps = _kernels_reach.low_ground(row, col, level, frame.bed, frame.inside)
    below = low == _kernels_reach.LOW
    wet = np.zeros(frame.bed.shape, np.bool_)
    wet[row, col] = True
    if (low == _kernels_reach.TOO_FAR).any():
        surface = np.full(wet.shape, np.nan)
        surface[row, col] = level
        below = _below_nearest(frame, wet, surface)
        perhaps = joined_to(wet, below | ~frame.inside | wet)
    # Only what is reached through unknown ground is unknown: low ground open to the water itself
    # was solved, and is dry.
    plainly = joined_to(wet, below | wet)
    codes[perhaps & ~plainly] = Wet.UNKNOWN
    codes[row, col] = Wet.YES
    return codes


def _below_nearest(frame: Frame, wet: BoolArray, surface: FloatArray) -> BoolArray:
    """Return the inside cells that lie below the level of the wet cell nearest to each."""
    nearest = distance_transform_edt(~wet, return_distances=False, return_indices=True)
    with np.errstate(invalid="ignore"):
        return np.asarray(frame.inside & (frame.bed < surface[tuple(nearest)]))


def _notes(flow: float, reached: Reached, solver: GridSolver) -> list[FlowNote]:
    """Return how well the flow was solved."""
    settings = solver.settings
    changes = (reached.depth_change, reached.speed_change)
    values = (float(reached.cycles), reached.section_error, *changes)
    notes = [FlowNote(NoteKind.SOLVED, flow, None, values, reached.scheme)]
    if not reached.solved:
        limits = (settings.section_error, settings.depth_change_m, settings.speed_change_m_s)
        notes.append(FlowNote(NoteKind.NOT_AT_REST, flow, None, limits))
    restless = int(((solver.slope_factor < 0.5) & (solver.water[:, 0] > settings.wet_m)).sum())
    if restless:
        area = restless * solver.cells.cell**2
        notes.append(FlowNote(NoteKind.OSCILLATES, flow, None, (area,)))
    return notes


def _bend_notes(
    flow: float, solver: GridSolver, wet: BoolArray, curvature: FloatArray, width: FloatArray
) -> list[FlowNote]:
    """Return a note where secondary flow in a bend is strong for a depth-averaged model."""
    if not wet.any():
        return []
    cells = solver.cells
    rough2 = roughness2_at(cells.mesh, solver.water[:, 0])
    number = bend_number(solver.water[:, 0], rough2, curvature, width)
    stations = (cells.station / max(float(np.median(width)), cells.cell)).astype(np.int64)
    river = wet & (stations >= 0)
    count = np.bincount(stations[river])
    mean = np.bincount(stations[river], number[river]) / np.maximum(count, 1)
    worst = int(np.argmax(mean))
    if mean[worst] <= WARN_ABOVE:
        return []
    place = float(cells.station[river & (stations == worst)].mean())
    values = (float(mean[worst]), WARN_ABOVE, float(solver.settings.bend_closure))
    return [FlowNote(NoteKind.STRONG_BEND, flow, place, values)]


def diverged(flow: float) -> FlowFault:
    """Return the fault of a flow whose solve has no finite numbers."""
    return FlowFault(
        f"{flow:.4g} m3/s",
        "the flow solver found no steady flow",
        f"Check the bed for holes and spikes and the level at the foot; {PREVIEW}",
        flow,
    )


def not_solved(flow: float, reached: Reached) -> FlowFault:
    """Return the fault of a flow that did not come to rest."""
    return FlowFault(
        f"{flow:.4g} m3/s",
        f"after {reached.cycles} cycles ({reached.scheme}) the discharge through some section is "
        f"still {100 * reached.section_error:.1f} % off",
        f"Check the bed for holes and spikes and the level at the foot; {PREVIEW}",
        flow,
    )


def no_place(x: float, y: float) -> Fault:
    """Return the fault of a tributary that enters where no cell can be wet."""
    return Fault(
        "inflows",
        f"no water-bearing ground lies near x {x:.0f}, y {y:.0f}, where a tributary enters",
        "Draw the side river's mouth into the main channel, or leave its share out",
    )
