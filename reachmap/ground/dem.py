"""Reading elevation models: several tiles, any CRS, metres or feet, brought onto the grid."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element, SubElement, tostring

import numpy as np
import rasterio
from rasterio.crs import CRS
from rasterio.enums import Resampling
from rasterio.io import DatasetReader
from rasterio.warp import reproject

from reachmap.base.crs import vertical_frame
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.grid import Grid
from reachmap.base.rasters import open_mosaic, open_raster
from reachmap.base.safe_files import RefusedError
from reachmap.base.units import FACTORS, HEIGHT_UNIT_WORDS
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.markup.dem_note import DemNote

WARP_MEMORY_MB = 128
"""What the warper may hold at a time: tiles are read in windows, never whole."""

EMPTY = -99999.0
"""Stands for no height where tiles are read as one."""

PLAUSIBLE_M = (-500.0, 9000.0)
"""Heights outside these are faults of the file, not ground [m]."""


@dataclass(frozen=True, slots=True)
class Dem:
    """A ground model on the grid.

    Parameters
    ----------
    height
        Ground, or the water of the day it was flown [m], float32 (y, x); NaN where unknown.
    flow
        Discharge of that day [m3/s]; NaN where not given.
    datum
        Name of the vertical datum, "" where not given.
    notes
        What was assumed.
    flights
        The ground of each flight by itself, where there are several, the one that counts before
        the others first; as `height`.
    """

    height: np.ndarray[tuple[int, int], np.dtype[np.float32]]
    flow: float
    datum: str
    notes: tuple[GroundNote, ...] = ()
    flights: tuple[np.ndarray[tuple[int, int], np.dtype[np.float32]], ...] = ()


@dataclass(frozen=True, slots=True)
class _Tile:
    """Metadata of one file; `unit_m` is NaN and `datum` "" where it has none."""

    path: Path
    crs: CRS
    cell_m: float
    unit_m: float
    datum: str
    bounds: tuple[float, float, float, float]
    nodata: float | None
    size: tuple[float, float]
    driver: str

    @property
    def grid(self) -> tuple[object, ...]:
        """Return what tiles that lie on one pixel grid have in common."""
        wide, high = self.size
        if self.driver != "GTiff":  # only GeoTIFFs are put together as one
            return (str(self.path),)
        phase = (round(self.bounds[0] / wide % 1, 3) % 1, round(self.bounds[3] / high % 1, 3) % 1)
        return (wide, high, self.crs.to_wkt(), self.unit_m, phase)


def read_dem(paths: Sequence[Path], grid: Grid, note: DemNote) -> Dem:
    """Return the tiles as one ground model on the grid.

    Tiles finer than the grid are averaged by area, coarser ones interpolated. Tiles on one pixel
    grid are read as the one raster they make; of others that overlap, the first counts. Memory is
    that of two frames and the warper's window, whatever the size of the tiles.

    Parameters
    ----------
    paths
        Raster files with heights in their first band, at least one; the flights of `note` count
        by their places here.
    grid
        The raster to bring them to.
    note
        What reach.toml gives for them: unit of height, datum, flow of the day.

    Raises
    ------
    MarkupError
        If a tile has no CRS, cannot be read, contradicts the note or another tile in unit or datum,
        or none reaches the grid.
    """
    tiles, faults = _look(paths)
    faults += _contradictions(tiles, note)
    if faults:
        raise MarkupError(faults)
    flights = [one.tiles for one in note.flights] or [tuple(range(len(tiles)))]
    parts = [_together([tiles[k] for k in mine], grid, note) for mine in flights]
    height = parts[0].copy()
    for part in parts[1:]:
        np.copyto(height, part, where=np.isnan(height))
    if not np.isfinite(height).any():
        where = ", ".join(path.name for path in paths)
        fault = Fault(
            f"DEM {where}",
            "none of it lies on the drawn reach",
            "Check its CRS, or take it out of the reach folder",
        )
        raise MarkupError([fault])
    datum = next((tile.datum for tile in tiles if tile.datum), note.datum)
    several = tuple(parts) if len(parts) > 1 else ()
    return Dem(height, note.flow, datum, _notes(tiles, note, datum), several)


def _together(
    tiles: Sequence[_Tile], grid: Grid, note: DemNote
) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """Return tiles as one ground [m], float32 (y, x); of those that overlap the first counts."""
    height = np.full(grid.shape, np.nan, dtype=np.float32)
    for source, tile in _mosaics(tiles):
        unit = FACTORS[note.height_unit] if np.isnan(tile.unit_m) else tile.unit_m
        try:
            part = _onto(grid, source, tile) * np.float32(unit)
        except rasterio.errors.RasterioError as error:
            found = f"its heights cannot be read ({str(error)[:120]}): it may be cut short"
            fix = "Copy or export it again, or take it out"
            raise MarkupError([Fault(f"DEM {tile.path.name}", found, fix)]) from None
        part[(part < PLAUSIBLE_M[0]) | (part > PLAUSIBLE_M[1])] = np.nan
        np.copyto(height, part, where=np.isnan(height))
    return height


def _look(paths: Sequence[Path]) -> tuple[list[_Tile], list[Fault]]:
    """Return the metadata of each file, and what is wrong with it."""
    tiles: list[_Tile] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            with open_raster(path) as source:
                crs, words = source.crs, (source.units[0] or "")
                bounds, nodata, size = tuple(source.bounds), source.nodata, source.res
                driver = source.driver
        except RefusedError as error:
            faults.append(Fault(f"DEM {path.name}", f"cannot be read ({error.found})", error.fix))
            continue
        except rasterio.errors.RasterioError as error:
            faults.append(Fault(f"DEM {path.name}", f"cannot be read ({error})", "Export it again"))
            continue
        if crs is None:
            fix = "Give it its CRS, for example in your GIS program, and export it again"
            faults.append(Fault(f"DEM {path.name}", "it carries no CRS", fix))
            continue
        datum, vertical_unit = vertical_frame(crs.to_wkt())
        unit = HEIGHT_UNIT_WORDS.get(words.strip().lower(), vertical_unit)
        scale = crs.linear_units_factor[1] if crs.is_projected else 111_000.0
        tiles.append(_Tile(path, crs, max(size) * scale, unit, datum, bounds, nodata, size, driver))
    return tiles, faults


def _contradictions(tiles: Sequence[_Tile], note: DemNote) -> list[Fault]:
    """Return where tiles and reach.toml, or two tiles, differ in unit or datum."""
    faults: list[Fault] = []
    given = FACTORS[note.height_unit]
    stated = [tile for tile in tiles if np.isfinite(tile.unit_m)]
    agree = any(abs(tile.unit_m / given - 1) <= 1e-3 for tile in stated)
    for tile in () if agree else stated:  # tiles may differ, each in its own unit
        if abs(tile.unit_m / given - 1) > 1e-3:
            found = f"the file says its heights are in units of {tile.unit_m:.6g} m"
            fix = f"reach.toml says {note.height_unit!r}: correct the one that is wrong"
            faults.append(Fault(f"DEM {tile.path.name}", found, fix))
    datums = {tile.datum for tile in tiles if tile.datum}
    if note.datum and len(datums) == 1 and not _same_datum(note.datum, next(iter(datums))):
        found = f"the file names the vertical datum {next(iter(datums))!r}"
        fix = f"reach.toml says {note.datum!r}: correct the one that is wrong"
        faults.append(Fault("DEM", found, fix))
    if len(datums) > 1:
        names = ", ".join(sorted(datums))
        fix = "Bring all tiles to one vertical datum before you use them together"
        faults.append(Fault("DEM", f"its tiles name different vertical datums: {names}", fix))
    return faults


def _same_datum(one: str, other: str) -> bool:
    """Return whether two names of a datum agree apart from spelling and a trailing "height"."""
    plain = [
        "".join(sign for sign in name.lower().replace("height", "") if sign.isalnum())
        for name in (one, other)
    ]
    return plain[0] in plain[1] or plain[1] in plain[0]


def _mosaics(tiles: Sequence[_Tile]) -> Iterator[tuple[DatasetReader, _Tile]]:
    """Yield the tiles as open datasets: those on one pixel grid as one, so that seams are exact."""
    groups: dict[tuple[object, ...], list[_Tile]] = {}
    for tile in tiles:
        groups.setdefault(tile.grid, []).append(tile)
    for group in groups.values():
        if len(group) == 1:
            with open_raster(group[0].path) as source:
                yield source, group[0]
        else:
            with open_mosaic(_virtual(group)) as source:
                yield source, group[0]


def _virtual(tiles: Sequence[_Tile]) -> bytes:
    """Return GDAL's description of one raster made of tiles on one pixel grid."""
    wide, high = tiles[0].size
    west = min(tile.bounds[0] for tile in tiles)
    south = min(tile.bounds[1] for tile in tiles)
    east = max(tile.bounds[2] for tile in tiles)
    north = max(tile.bounds[3] for tile in tiles)
    columns, rows = round((east - west) / wide), round((north - south) / high)
    root = Element("VRTDataset", rasterXSize=str(columns), rasterYSize=str(rows))
    SubElement(root, "SRS").text = tiles[0].crs.to_wkt()
    SubElement(root, "GeoTransform").text = f"{west!r}, {wide!r}, 0, {north!r}, 0, {-high!r}"
    band = SubElement(root, "VRTRasterBand", dataType="Float32", band="1")
    SubElement(band, "NoDataValue").text = repr(EMPTY)
    for tile in tiles:
        source = SubElement(band, "ComplexSource")
        SubElement(source, "SourceFilename", relativeToVRT="0").text = str(tile.path.resolve())
        SubElement(source, "SourceBand").text = "1"
        size: dict[str, str] = {
            "xSize": str(round((tile.bounds[2] - tile.bounds[0]) / wide)),
            "ySize": str(round((tile.bounds[3] - tile.bounds[1]) / high)),
        }
        SubElement(source, "SrcRect", {"xOff": "0", "yOff": "0"} | size)
        left = str(round((tile.bounds[0] - west) / wide))
        top = str(round((north - tile.bounds[3]) / high))
        SubElement(source, "DstRect", {"xOff": left, "yOff": top} | size)
        if tile.nodata is not None:
            SubElement(source, "NODATA").text = repr(tile.nodata)
    return tostring(root)


def _onto(grid: Grid, source: DatasetReader, tile: _Tile) -> np.ndarray:
    """Return a dataset's heights on the grid, in its own unit; NaN where it knows none."""
    height = np.full(grid.shape, np.nan, dtype=np.float32)
    finer = tile.cell_m <= grid.cell
    reproject(
        rasterio.band(source, 1),
        height,
        src_nodata=source.nodata,
        dst_transform=grid.transform,
        dst_crs=grid.crs,
        dst_nodata=np.nan,
        resampling=Resampling.average if finer else Resampling.bilinear,
        warp_mem_limit=WARP_MEMORY_MB,
    )
    return height


def _notes(tiles: Sequence[_Tile], note: DemNote, datum: str) -> tuple[GroundNote, ...]:
    """Return what was assumed on reading."""
    notes = []
    if not datum:
        notes.append(GroundNote(GroundNoteKind.DATUM_UNNAMED))
    unit = str(note.height_unit)
    silent = [tile.path.name for tile in tiles if np.isnan(tile.unit_m)]
    if len(silent) == len(tiles):
        notes.append(GroundNote(GroundNoteKind.HEIGHT_UNIT_UNSAID, names=(unit,)))
    elif silent:
        names = (unit, *silent)
        notes.append(GroundNote(GroundNoteKind.HEIGHT_UNIT_OF_SOME_UNSAID, names=names))
    return tuple(notes)
