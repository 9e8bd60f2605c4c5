"""What the engine says of one flow: rasters, and what a reader must know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.errors import Fault
from reachmap.base.words import Wet
from reachmap.flow import _kernels
from reachmap.flow.engine.basin import Basin
from reachmap.flow.engine.bend import WARN_ABOVE, bend_number
from reachmap.flow.engine.cells import Frame
from reachmap.flow.engine.grids import joined_to_river
from reachmap.flow.engine.steady import Reached

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
    notes: tuple[str, ...]


def answer(
    frame: Frame,
    basin: Basin,
    reached: Reached,
    label: str,
    bends: tuple[FloatArray, FloatArray],
) -> Solved:
    """Return the basin's water on the ground's raster.

    Parameters
    ----------
    frame
        The whole raster (not only the cells that may get wet), rows north.
    basin, reached
        The solved water and how well it is solved.
    label
        Name of the flow in notes.
    bends
        Curvature of the line through each cell [1/m] and width of the river beside it [m], for the
        bend number.
    """
    cells, water = basin.cells, basin.water
    wet = water[:, 0] > basin.settings.wet_m
    wet &= joined_to_river(basin, wet)
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
    notes = _notes(label, reached, basin) + _bend_notes(label, basin, wet, bends)
    doubtful = int(((codes == Wet.UNKNOWN) & frame.inside).sum())
    if doubtful:
        notes += (
            f"{label}: {doubtful * cells.cell**2:.0f} m2 of low ground could be reached only over "
            "ground of unknown height; it is marked unknown.",
        )
    return Solved(code, level, deep, east, north, reached, notes)


def _wet_codes(frame: Frame, wet: BoolArray, level: FloatArray) -> CodeArray:
    """Return codes of `Wet`: unknown beyond the known ground and on low ground open to it."""
    beyond = ~frame.inside
    if not wet.any():
        return np.where(beyond, Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    nearest = distance_transform_edt(~wet, return_distances=False, return_indices=True)
    with np.errstate(invalid="ignore"):
        low = frame.inside & (frame.bed < level[tuple(nearest)])
    perhaps = _kernels.flood(np.ascontiguousarray(low | beyond | wet), np.ascontiguousarray(wet))
    # Only what is reached through unknown ground is in doubt: low ground open to the water itself
    # was solved, and is dry.
    plainly = _kernels.flood(np.ascontiguousarray((low & ~beyond) | wet), np.ascontiguousarray(wet))
    codes = np.where(beyond | (perhaps & ~plainly), Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    codes[wet] = Wet.YES
    return codes


def _notes(label: str, reached: Reached, basin: Basin) -> tuple[str, ...]:
    """Return what was reached."""
    settings = basin.settings
    notes = [
        f"{label}: solved in {reached.cycles} cycles ({reached.way}); the worst section's "
        f"discharge is {100 * reached.section_error:.2g} % off; a cycle still moves depth by "
        f"{1000 * reached.depth_change:.2g} mm and speed by {100 * reached.speed_change:.2g} cm/s."
    ]
    if not reached.solved:
        notes.append(
            f"{label}: the water did not come quite to rest (asked for: "
            f"{100 * settings.section_error:.2g} % of discharge, "
            f"{1000 * settings.depth_change_m:.2g} mm and "
            f"{100 * settings.speed_change_m_s:.2g} cm/s a cycle). Take its depths and speeds as "
            "less sure, most of all where currents meet."
        )
    swinging = int(((basin.calm < 0.5) & (basin.water[:, 0] > settings.wet_m)).sum())
    if swinging:
        notes.append(
            f"{label}: over {swinging * basin.cells.cell**2:.0f} m2 the water swings to and fro; "
            "there the solver was smoothed, and speeds are means at best."
        )
    return tuple(notes)


def _bend_notes(
    label: str, basin: Basin, wet: BoolArray, bends: tuple[FloatArray, FloatArray]
) -> tuple[str, ...]:
    """Return a warning where secondary flow in bends is strong for what the flow model knows."""
    if not wet.any():
        return ()
    cells, (curvature, width) = basin.cells, bends
    number = bend_number(basin.water[:, 0], cells.rough2, curvature, width)
    stations = (cells.station / max(float(np.median(width)), cells.cell)).astype(np.int64)
    river = wet & (stations >= 0)
    count = np.bincount(stations[river])
    mean = np.bincount(stations[river], number[river]) / np.maximum(count, 1)
    worst = int(np.argmax(mean))
    if mean[worst] <= WARN_ABOVE:
        return ()
    place = cells.station[river & (stations == worst)].mean()
    told = (
        "the closure for it is on, but is not matched to measurements"
        if basin.settings.bend_closure
        else "depth-averaged speeds do not know of it"
    )
    return (
        f"{label}: in the bend {place:.0f} m down the line the water turns over strongly (bend "
        f"number {mean[worst]:.2g}, above {WARN_ABOVE:g}); {told}: expect slower water inside and "
        "faster outside.",
    )


def blew_up(label: str) -> Fault:
    """Return the fault of a flow with no numbers at all."""
    return Fault(
        label,
        "the flow solver found no steady flow",
        f"Check the bed for holes and spikes and the level at the foot; {PREVIEW}",
    )


def not_solved(label: str, reached: Reached) -> Fault:
    """Return the fault of a flow that did not come to rest."""
    return Fault(
        label,
        f"after {reached.cycles} cycles ({reached.way}) the discharge through some section is "
        f"still {100 * reached.section_error:.1f} % off",
        f"Check the bed for holes and spikes and the level at the foot; {PREVIEW}",
    )


def no_place(x: float, y: float) -> Fault:
    """Return the fault of a tributary that enters where no cell can be wet."""
    return Fault(
        "inflows",
        f"no water-bearing ground lies near x {x:.0f}, y {y:.0f}, where a tributary enters",
        "Draw the side river's mouth into the main channel, or leave its share out",
    )
