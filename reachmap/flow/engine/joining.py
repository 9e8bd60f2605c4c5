"""Pieces of a long river joined: each over the part it is valid for, compared where they meet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.packed import PackedRaster, known_cells, packed_field, values_at
from reachmap.base.words import Wet
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, with_notes

RASTERS = ("level", "depth", "east_speed", "north_speed")
BAND_WIDTHS = 1.0
"""Two pieces are compared within this many river widths of the cut."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the line: the part it is valid for, and the part it is solved on [m]."""

    first: float
    last: float
    head: float
    foot: float


def window(ground: xr.Dataset, part: xr.Dataset) -> tuple[slice, slice]:
    """Return rows and columns of the whole raster that a part covers."""
    row = int(np.argmin(np.abs(ground["y"].to_numpy() - part["y"].to_numpy()[0])))
    col = int(np.argmin(np.abs(ground["x"].to_numpy() - part["x"].to_numpy()[0])))
    return slice(row, row + part.sizes["y"]), slice(col, col + part.sizes["x"])


def _at(ground: xr.Dataset, answer: xr.Dataset, name: str, cells: IntArray) -> FloatArray:
    """Return a piece's values at cells of the whole raster, NaN where it does not reach."""
    rows, cols = window(ground, answer)
    row, col = np.divmod(cells, ground.sizes["x"])
    here = (row >= rows.start) & (row < rows.stop) & (col >= cols.start) & (col < cols.stop)
    values = np.full(cells.shape, np.nan)
    own = (row[here] - rows.start) * answer.sizes["x"] + col[here] - cols.start
    values[here] = values_at(answer[name][0], own)
    return values


def mismatch(
    ground: xr.Dataset, cut: float, above: xr.Dataset, below: xr.Dataset
) -> tuple[float, float]:
    """Return the mismatch of two pieces at their cut, rms: level [m], speed [m/s]."""
    width = Centreline.of(ground).median_width
    cells, station = known_cells(ground["station"])
    band = cells[np.abs(station - cut) < BAND_WIDTHS * width]
    level, east, north = (
        _at(ground, above, name, band) - _at(ground, below, name, band)
        for name in ("level", "east_speed", "north_speed")
    )
    both = np.isfinite(level)
    if not both.any():
        return np.inf, np.inf
    return (
        float(np.sqrt((level[both] ** 2).mean())),
        float(np.sqrt((east[both] ** 2 + north[both] ** 2).mean())),
    )


def mean_level_at(ground: xr.Dataset, answer: xr.Dataset, station: float, known: float) -> float:
    """Return a piece's mean level about a station, `known` where it has none."""
    cell = float(ground.attrs["cell"])
    cells, along = known_cells(ground["station"])
    level = _at(ground, answer, "level", cells[np.abs(along - station) < 2 * cell])
    return float(np.nanmean(level)) if np.isfinite(level).any() else known


def joined_pieces(
    ground: xr.Dataset, pieces: list[Piece], answers: list[xr.Dataset], foot_level: float
) -> xr.Dataset:
    """Return one flow's Dataset on the whole raster, each piece over the part it is valid for."""
    cells, station = known_cells(ground["station"])
    piece_of = np.searchsorted([piece.first for piece in pieces[1:]], station, side="right")
    fields: dict[str, np.ndarray] = {
        name: np.full(cells.size, np.nan) for name in (*RASTERS, "wet")
    }
    notes: list[FlowNote] = []
    for number, answer in enumerate(answers):
        mine = piece_of == number
        for name, values in fields.items():
            values[mine] = _at(ground, answer, name, cells[mine])
        notes += notes_of(answer)
    # At the whole flow, also where a stretch carries less because tributaries join below it.
    flow = float(answers[-1]["flow"].to_numpy()[0])
    notes = [replace(note, flow=flow) for note in notes]
    for number in range(len(pieces) - 1):
        apart = mismatch(ground, pieces[number].last, answers[number], answers[number + 1])
        notes.append(FlowNote(NoteKind.CUT, flow, pieces[number].last, apart))
    last_one = answers[-1]
    fields["wet"] = np.where(np.isfinite(fields["wet"]), fields["wet"], Wet.UNKNOWN)
    stack = _packed(ground, cells, fields)
    scalars = {name: ("flow", last_one[name].to_numpy()) for name in ("inflow", "outflow")}
    scalars["imbalance"] = ("flow", np.max([a["imbalance"].to_numpy() for a in answers], axis=0))
    scalars["foot_level"] = ("flow", np.array([foot_level]))
    whole = xr.Dataset(
        {**stack, **scalars},
        coords={"flow": last_one["flow"].to_numpy(), "x": ground["x"], "y": ground["y"]},
        attrs=last_one.attrs,
    )
    return with_notes(whole, notes)


def _packed(
    ground: xr.Dataset, cells: IntArray, fields: dict[str, np.ndarray]
) -> dict[str, xr.Variable]:
    """Return the fields of one flow at cells of the ground's raster, packed; unknown elsewhere."""
    shape, wet = (ground.sizes["y"], ground.sizes["x"]), np.isfinite(fields["depth"])
    found = {
        name: packed_field([PackedRaster(shape, np.array(np.nan), cells[wet], fields[name][wet])])
        for name in RASTERS
    }
    sure = fields["wet"] != Wet.UNKNOWN
    codes = fields["wet"][sure].astype(np.uint8)
    elsewhere = np.array(Wet.UNKNOWN, np.uint8)
    found["wet"] = packed_field([PackedRaster(shape, elsewhere, cells[sure], codes)])
    return found
