"""A static picture of the water at one flow, for a page whose scripts do not run.

Scripts do not run in a page saved as an archive or opened in a restrictive browser; its canvas is
empty then. The still shows the minimum that such a page must: where water is and how deep, what is
beyond the limits, what is unknown, and the hazards drawn.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from rasterio.features import rasterize
from scipy import ndimage
from shapely import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.picture import MapPicture
from reachmap.base.words import UnitSystem, WadeGrade, Wet
from reachmap.outputs.palette import BY_KIND, PAPER, ramps
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.hillshade import LOW_FROM_M, LOW_GROWTH, TALL_FROM_M, TALL_GROWTH
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.unknown import off_map
from reachmap.text.numbers import WAYS, both

T = TypeVar("T", bound=np.generic)

MOST_BYTES = 220_000
"""Largest picture [bytes]; in base64 it stays below 300 kB (our choice, 100-220 kB)."""

LONGEST_PX = 1800
"""Initial longest side [px] (our choice, 1200-2400: a reach of 2 km keeps its cells)."""

MARGIN_M = 30.0
"""Margin around the water and the hazards [m] (our choice, 20-50)."""

HATCH_PX, HATCH_WIDTH_PX = 10, 2
"""Spacing and width of a hatch's strokes [px] (our choice: visible at half size)."""

HAZARD_PX, CASING_PX, SIGN_PX = 5.0, 9.0, 13.0
"""Width of a hazard's line, of the casing below it, and half the size of its symbol [px]."""

GROUND, LOW, TALL, WATER = 0, 1, 2, 3
"""Colour indices of the picture; seven depth tints begin at `WATER`."""

UNKNOWN, HATCH, UNKNOWN_HATCH, EDGE, HAZARD, CASING = range(WATER + 7, WATER + 13)

NOTHING = 255
"""No colour."""

PRESSED = 8
"""Compression level, 0 to 9: 9 takes three times as long to save 4 %."""

TRUSTED = (WadeGrade.EASY, WadeGrade.CAREFUL)
"""Grades drawn without a hatch. All other water is hatched, including water outside all zones."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The picture's grid and the project cell under each pixel.

    `cells` are indices into the flattened raster; `inside` is True where there is a cell, `on_map`
    where it is part of the map; all arrays have the shape of the picture.
    """

    page: PageGrid
    cells: IntArray
    inside: BoolArray
    on_map: BoolArray

    @property
    def shape(self) -> tuple[int, ...]:
        """Return rows and columns of the picture."""
        return self.inside.shape

    def laid(self, values: NDArray[T]) -> NDArray[T]:
        """Return a project raster resampled to the picture; pixels outside take its first cell."""
        return np.asarray(values.ravel()[self.cells])

    def on_picture(self, shapes: Sequence[BaseGeometry]) -> list[BaseGeometry]:
        """Return shapes of the project's CRS in pixels, y down, transformed in one call."""

        def placed(points: FloatArray) -> FloatArray:
            return np.column_stack(~self.page.grid.transform * self.page.to_page(points).T)

        if not len(shapes):
            return []
        return list(shapely.transform(shapely.force_2d(np.asarray(shapes)), placed))

    def mask(self, shapes: Iterable[BaseGeometry], *, touched: bool = False) -> BoolArray:
        """Return a mask of pixels within any shape [px]; `touched` adds those on the border."""
        filled = [shape for shape in shapes if not shape.is_empty]
        if not filled:
            return np.zeros(self.shape, dtype=bool)
        found = rasterize(filled, out_shape=self.shape, all_touched=touched, dtype="uint8")
        return np.asarray(found, dtype=bool)


@dataclass(frozen=True, slots=True)
class _Plate:
    """Data common to all stills on one grid: the ground, the drawn hazards, and patterns.

    `hazards` holds colour indices, `NOTHING` where there is none.
    """

    sheet: _Sheet
    ground: CodeArray
    hazards: CodeArray
    hatch: BoolArray
    casing: BoolArray
    bricks: BoolArray


def still_maker(product: Product, page: PageGrid) -> Callable[[int], MapPicture]:
    """Return a function that draws the still of a flow by its index; all share one grid.

    Parameters
    ----------
    product
        The built reach.
    page
        The page's grid: the still has the same projection, cropped to the water.
    """
    made: dict[int, MapPicture] = {}
    plates: dict[int, _Plate] = {}

    def drawn(index: int) -> MapPicture:
        longest = LONGEST_PX
        while True:
            if longest not in plates:
                sheet = _sheet(_cut(product, page, longest), off_map(product.flows))
                plates[longest] = _plate(product, sheet)
            found = _still(product, index, plates[longest])
            if len(found.data) <= MOST_BYTES or longest < 300:
                return found
            longest = int(longest * 0.8)

    def draw(index: int) -> MapPicture:
        if index not in made:
            parts = "ground", "flows", "waters", "layers", "drawing", "words"
            made[index] = product.once(
                "still", parts, lambda: drawn(index), (index, page.grid.cell)
            )
        return made[index]

    return draw


def still_words(still: MapPicture, units: UnitSystem) -> dict[str, Any]:
    """Return the template's values for a still, including its key."""
    ramp, way = ramps(units)[0], WAYS["depth"][units][0]
    signs = [f"{bound / way.size:.{0 if way.size < 1 else 1}f}" for bound in ramp.bounds]
    signs[-1] += "+"
    inks = ["#101a1b"] * 4 + ["#ffffff"] * (len(signs) - 4)
    return {
        "src": "data:image/png;base64," + base64.b64encode(still.data).decode("ascii"),
        "width": still.width,
        "height": still.height,
        "south": round(still.south, 7),
        "west": round(still.west, 7),
        "north": round(still.north, 7),
        "east": round(still.east, 7),
        "across": both("distance", still.width * still.pixel_m, units),
        "ramp": list(zip(ramp.day, signs, inks, strict=True)),
        "unit": way.unit,
    }


def _cut(product: Product, page: PageGrid, longest: int) -> PageGrid:
    """Return the grid cropped to all water and hazards, its longest side `longest` px at most."""
    shapes = [*product.layers["wetted"].geometry, *(r.line for r in product.markup.rivers)]
    shapes += [hazard.shape for hazard in product.markup.hazards]
    corners = page.to_page(shapely.get_coordinates(shapes))
    margin = MARGIN_M * page.scale
    x0, y0 = corners.min(axis=0) - margin
    x1, y1 = corners.max(axis=0) + margin
    finest = 0.25 * page.source.cell * page.scale
    cell = max(float(max(x1 - x0, y1 - y0)) / longest, finest)
    return page.cut_to((float(x0), float(y0), float(x1), float(y1)), cell)


def _sheet(page: PageGrid, beyond: BoolArray) -> _Sheet:
    """Return the picture's grid with the project cell under each pixel.

    `beyond` marks project cells that are no part of the map, as `off_map` gives them.
    """
    rows, columns, inside = page.whole()
    cells = np.ravel_multi_index((rows, columns), beyond.shape).astype(np.int32)
    return _Sheet(page, cells, inside, inside & ~beyond.ravel()[cells])


def _plate(product: Product, sheet: _Sheet) -> _Plate:
    """Return the data common to all stills on a grid."""
    return _Plate(
        sheet,
        ground=_ground(product, sheet),
        hazards=_hazards(product, sheet),
        hatch=_slant(sheet.shape),
        casing=_slant(sheet.shape, HATCH_WIDTH_PX, 1),
        bricks=_bricks(sheet.shape),
    )


def _still(product: Product, index: int, plate: _Plate) -> MapPicture:
    """Return the still of one flow on a grid."""
    picture = plate.ground.copy()
    _lay_water(picture, product, index, plate)
    picture = np.where(plate.hazards == NOTHING, picture, plate.hazards)
    image = Image.fromarray(picture)
    image.putpalette(_colours(product))
    stream = io.BytesIO()
    image.save(stream, "PNG", compress_level=PRESSED)
    return MapPicture.on(plate.sheet.page.grid, stream.getvalue())


def _ground(product: Product, sheet: _Sheet) -> CodeArray:
    """Return the ground: background, tinted where there is cover."""
    growth = product.ground["surface"].to_numpy() - product.ground["bed"].to_numpy()
    stands = np.where(sheet.inside, np.nan_to_num(sheet.laid(growth)), 0.0)
    found = np.where(stands >= TALL_FROM_M, TALL, np.where(stands >= LOW_FROM_M, LOW, GROUND))
    return np.asarray(found, dtype=np.uint8)


def _lay_water(picture: CodeArray, product: Product, index: int, plate: _Plate) -> None:
    """Draw water in depth tints, hatched where it is beyond the limits or unknown."""
    sheet = plate.sheet
    tint = np.where(sheet.on_map, sheet.laid(_tints(product, index)), NOTHING)
    zones = _zones(product, index)
    unknown = tint == UNKNOWN
    unknown |= sheet.mask(_of_grades(zones, (WadeGrade.UNKNOWN,), sheet), touched=True)
    water = (tint != NOTHING) & ~unknown
    picture[water] = tint[water]
    graded = sheet.mask(_of_grades(zones, TRUSTED, sheet))
    graded &= ~sheet.mask(_of_grades(zones, (WadeGrade.NO,), sheet))
    beyond = water & ~graded
    picture[beyond & plate.hatch] = HATCH
    picture[beyond & plate.casing] = CASING
    picture[unknown] = UNKNOWN
    picture[unknown & plate.bricks] = UNKNOWN_HATCH
    covered = water | unknown
    picture[covered & ~ndimage.binary_erosion(covered, iterations=1)] = EDGE


def _tints(product: Product, index: int) -> CodeArray:
    """Return the tint of each project cell's depth at a flow, `UNKNOWN`, or `NOTHING` where dry."""
    one = product.flows.isel(flow=index)
    wet, depth = one["wet"].to_numpy(), one["depth"].to_numpy()
    bounds = ramps(product.markup.plan.units)[0].bounds
    tint = WATER + np.clip(np.digitize(np.nan_to_num(depth), bounds) - 1, 0, len(bounds) - 1)
    tint = np.where((wet == Wet.UNKNOWN) | ~np.isfinite(depth), UNKNOWN, tint)
    return np.where(wet == Wet.NO, NOTHING, tint).astype(np.uint8)


def _zones(product: Product, index: int) -> gpd.GeoDataFrame:
    """Return the wading zones of one flow."""
    wading = product.layers["wading"]
    return wading[wading["flow_label"] == product.labels[index]]


def _of_grades(
    zones: gpd.GeoDataFrame, grades: Sequence[WadeGrade], sheet: _Sheet
) -> list[BaseGeometry]:
    """Return the zones of some grades on the picture [px]."""
    names = [grade.value for grade in grades]
    return sheet.on_picture(zones.geometry[zones["grade"].isin(names)].to_numpy())


def _hazards(product: Product, sheet: _Sheet) -> CodeArray:
    """Return the drawn hazards: cased lines and outlines, with a symbol on each."""
    picture = np.full(sheet.shape, NOTHING, dtype=np.uint8)
    shapes = sheet.on_picture([hazard.shape for hazard in product.markup.hazards])
    if not shapes:
        return picture
    areas = [shape for shape in shapes if shape.area > 0]
    picture[sheet.mask(areas) & _slant(sheet.shape)] = HAZARD
    lines = [shape.boundary if shape.area > 0 else shape for shape in shapes]
    places = [shape.representative_point() for shape in shapes]
    for width, colour in ((CASING_PX, CASING), (HAZARD_PX, HAZARD)):
        grown = [line.buffer(width / 2) for line in lines]
        signs = [_diamond(place, SIGN_PX + width / 2) for place in places]
        picture[sheet.mask([*grown, *signs], touched=True)] = colour
    marks = [part for place in places for part in _exclamation(place)]
    picture[sheet.mask(marks)] = CASING
    return picture


def _diamond(place: Point, half: float) -> Polygon:
    """Return a diamond around a point [px]."""
    x, y = place.x, place.y
    return Polygon([(x, y - half), (x + half, y), (x, y + half), (x - half, y)])


def _exclamation(place: Point) -> tuple[Polygon, Polygon]:
    """Return stroke and dot of an exclamation mark about a place [px]."""
    x, y = place.x, place.y
    return box(x - 1.6, y - 8, x + 1.6, y + 2), box(x - 1.6, y + 4.5, x + 1.6, y + 8)


def _slant(shape: tuple[int, ...], start: int = 0, width: int = HATCH_WIDTH_PX) -> BoolArray:
    """Return strokes at 45 degrees, `width` px of each period from `start` on."""
    rows, columns = np.indices(shape, sparse=True)
    place = (rows + columns) % HATCH_PX
    return np.asarray((place >= start) & (place < start + width))


def _bricks(shape: tuple[int, ...]) -> BoolArray:
    """Return a brick pattern: level strokes, and upright ones offset between courses."""
    rows, columns = np.indices(shape, sparse=True)
    level = rows % HATCH_PX < HATCH_WIDTH_PX
    shifted = columns + HATCH_PX * (rows // HATCH_PX % 2)
    return np.asarray(level | (shifted % (2 * HATCH_PX) < HATCH_WIDTH_PX))


def _colours(product: Product) -> list[int]:
    """Return the picture's palette in the order of the indices, three bytes each."""
    unknown, hazard = BY_KIND["unknown_water"].day, BY_KIND["hazard"].day
    named = [*ramps(product.markup.plan.units)[0].day, unknown.fill, BY_KIND["no"].day.ink]
    named += [unknown.ink, BY_KIND["edge"].day.ink, hazard.ink, hazard.casing]
    return [*_bytes(PAPER), *LOW_GROWTH, *TALL_GROWTH, *(b for one in named for b in _bytes(one))]


def _bytes(colour: str) -> tuple[int, int, int]:
    """Return #rrggbb as three bytes."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
