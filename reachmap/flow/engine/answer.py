"""The answer at one flow: rasters, and facts that a reader must know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.errors import Fault, FlowFault
from reachmap.base.words import Wet
from reachmap.flow import _kernels
from reachmap.flow.engine.bend import WARN_ABOVE, bend_number
from reachmap.flow.engine.cells import Frame
from reachmap.flow.engine.grid_solver import GridSolver
from reachmap.flow.engine.grids import joined_to_river
from reachmap.flow.engine.steady import Reached
from reachmap.flow.notes import FlowNote, NoteKind

PREVIEW = "ask for the quick preview, or leave this flow out"


@dataclass(frozen=True, slots=True)
class Solved:
    """One flow's answer on the ground's raster, rows as in the ground; NaN where not wet."""

    wet: CodeArray
    level: FloatArray
    depth: FloatArray
    east: FloatArray
    north: FloatArray
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
    depth = cells.spread(np.where(wet, water[:, 0], np.nan))
    codes = _wet_codes(frame, cells.spread(wet.astype(np.float64), 0.0) > 0, depth + frame.bed)
    rasters: list[np.ndarray] = [
        codes,
        depth + frame.bed,
        depth,
        cells.spread(np.where(wet, water[:, 1], np.nan)),
        cells.spread(np.where(wet, water[:, 2], np.nan)),
    ]
    inner = [raster[1:-1, 1:-1][::-1] for raster in rasters]
    code, level, deep, east, north = (np.ascontiguousarray(raster) for raster in inner)
    notes = _notes(flow, reached, solver) + _bend_notes(flow, solver, wet, curvature, width)
    unknown = int(((codes == Wet.UNKNOWN) & frame.inside).sum())
    if unknown:
        area = unknown * cells.cell**2
        notes.append(FlowNote(NoteKind.UNKNOWN_GROUND, flow, None, (area,)))
    return Solved(code, level, deep, east, north, reached, tuple(notes))


def _wet_codes(frame: Frame, wet: BoolArray, level: FloatArray) -> CodeArray:
    """Return codes of `Wet`: unknown beyond the known ground and on low ground open to it."""
    beyond = ~frame.inside
    if not wet.any():
        return np.where(beyond, Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    nearest = distance_transform_edt(~wet, return_distances=False, return_indices=True)
    with np.errstate(invalid="ignore"):
        low = frame.inside & (frame.bed < level[tuple(nearest)])
    perhaps = _kernels.flood(np.ascontiguousarray(low | beyond | wet), np.ascontiguousarray(wet))
    # Only what is reached through unknown ground is unknown: low ground open to the water itself
    # was solved, and is dry.
    plainly = _kernels.flood(np.ascontiguousarray((low & ~beyond) | wet), np.ascontiguousarray(wet))
    codes = np.where(beyond | (perhaps & ~plainly), Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    codes[wet] = Wet.YES
    return codes


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
    number = bend_number(solver.water[:, 0], cells.mesh.roughness2, curvature, width)
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
