"""Conversion between rows of a layer and marks; untouched rows are written back unchanged."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.markup.described import is_nothing, plain_name
from reachmap.markup.layers import LAYER_FIELDS, LINE, NUMBERS, POLYGON, LayerField
from reachmap.markup.outlines import single_parts
from reachmap.markup.quantities import read_number, unit_of
from reachmap.markup.write import DIGITS
from reachmap.web.editor.schema import Mark, Path


@dataclass(frozen=True, slots=True)
class StoredMark:
    """A mark with the row of the file it came from.

    Parameters
    ----------
    mark
        As sent to the page.
    home
        Layer, number and part in the file, such as ``banks-3-1``: the same each time it is read.
    number
        Of the feature in its layer, as messages name it.
    row
        The row's columns as they are in the file.
    geometry
        The row's geometry, in the layer's CRS.
    parts
        Number of marks that the row was split into.
    """

    mark: Mark
    home: str
    number: int
    row: Mapping[str, Any]
    geometry: BaseGeometry | None
    parts: int

    @property
    def rowname(self) -> str:
        """Return the name shared by all marks of one row."""
        return self.home.rsplit("-", 1)[0]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A layer's table as it is in the file: its CRS and its columns with their types."""

    layer: str
    crs: str
    columns: Mapping[str, Any]


def sheet_of(layer: str, frame: gpd.GeoDataFrame, crs: str) -> Sheet:
    """Return a layer's table without its rows."""
    plain = frame.drop(columns=frame.geometry.name)
    return Sheet(layer, crs, {str(name): plain[name].dtype for name in plain.columns})


def marks_of(sheet: Sheet, frame: gpd.GeoDataFrame, prefix: str = "") -> list[StoredMark]:
    """Return a layer's rows as marks.

    Parameters
    ----------
    sheet
        The layer.
    frame
        Its rows, index as messages number them.
    prefix
        Prefix of each id, which keeps layers of other files apart.
    """
    spec = LAYER_FIELDS[sheet.layer]
    rows = frame.drop(columns=frame.geometry.name).to_dict("records")
    found = []
    for number, row, geometry in zip(frame.index, rows, frame.geometry, strict=True):
        named = {str(name): value for name, value in row.items()}
        values = {field.name: cell_text(_cell(named, field)) for field in spec.fields}
        parts = [None] if geometry is None else single_parts(geometry)
        for index, part in enumerate(parts, start=1):
            home = f"{sheet.layer}-{number}-{index}"
            shape, paths = paths_of(part, sheet.crs)
            mark = Mark(prefix + home, sheet.layer, shape, paths, values)
            found.append(StoredMark(mark, home, int(number), named, geometry, len(parts)))
    return found


def paths_of(geometry: BaseGeometry | None, crs: str) -> tuple[str, tuple[Path, ...]]:
    """Return a single geometry's kind and its corners in WGS84; "" and () for none."""
    if geometry is None or geometry.is_empty:
        return "", ()
    if geometry.geom_type == POLYGON:
        rings = [geometry.exterior, *geometry.interiors]
        groups = [shapely.get_coordinates(ring)[:-1] for ring in rings]
    else:
        groups = [shapely.get_coordinates(geometry)]
    paths = []
    for group in groups:
        try:
            x, y = transform_points(group[:, 0], group[:, 1], crs, WGS84)
        except ValueError:
            return "", ()
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            return "", ()
        paths.append(tuple(zip(x.tolist(), y.tolist(), strict=True)))
    return geometry.geom_type, tuple(paths)


def geometry_of(mark: Mark, crs: str) -> BaseGeometry | None:
    """Return a mark's geometry in a CRS; None where nothing is drawn."""
    if not mark.paths:
        return None
    groups = []
    for path in mark.paths:
        lonlat = np.asarray(path, dtype=np.float64)
        x, y = transform_points(lonlat[:, 0], lonlat[:, 1], WGS84, crs)
        groups.append(np.column_stack([x, y]))
    if mark.shape == POLYGON:
        return Polygon(groups[0], groups[1:])
    return LineString(groups[0]) if mark.shape == LINE else Point(groups[0][0])


def rows_of(
    sheet: Sheet, marks: Iterable[Mark], known: Mapping[str, StoredMark], units: UnitSystem
) -> tuple[gpd.GeoDataFrame, list[StoredMark]]:
    """Return marks as the rows of a layer, and the marks with the rows they are now in.

    A row none of whose marks was touched is written as it came, other programs' columns and all.

    Parameters
    ----------
    sheet
        The layer's table.
    marks
        Marks of the layer, in their order.
    known
        Marks as they were, by id.
    units
        Units of plain numbers.
    """
    marks = list(marks)
    intact = _intact(marks, known)
    rows: list[dict[str, Any]] = []
    shapes: list[BaseGeometry | None] = []
    kept: list[StoredMark] = []
    place: dict[str, int] = {}
    for mark in marks:
        old = known.get(mark.id)
        whole = old is not None and old.rowname in intact
        if old is None or not whole or old.rowname not in place:
            rows.append(_row(sheet, mark, old, units))
            shapes.append(_shape(sheet, mark, old, whole=whole))
            if old is not None and whole:
                place[old.rowname] = len(rows)
        number = place[old.rowname] if old is not None and whole else len(rows)
        part = int(old.home.rsplit("-", 1)[1]) if old is not None and whole else 1
        parts = old.parts if old is not None and whole else 1
        home = f"{sheet.layer}-{number}-{part}"
        kept.append(StoredMark(mark, home, number, rows[number - 1], shapes[number - 1], parts))
    return _frame(sheet, rows, shapes), kept


def _shape(sheet: Sheet, mark: Mark, old: StoredMark | None, *, whole: bool) -> BaseGeometry | None:
    """Return a row's geometry: the old one where it was not changed."""
    still = old is not None and old.mark.paths == mark.paths and old.mark.shape == mark.shape
    if old is not None and still and (whole or old.parts == 1):
        return old.geometry
    return geometry_of(mark, sheet.crs)


def _intact(marks: Sequence[Mark], known: Mapping[str, StoredMark]) -> set[str]:
    """Return the names of rows all of whose marks are unchanged."""
    seen: dict[str, int] = {}
    sizes: dict[str, int] = {}
    for mark in marks:
        old = known.get(mark.id)
        if old is None:
            continue
        sizes[old.rowname] = old.parts
        same = (mark.shape, mark.paths, mark.values) == (
            old.mark.shape,
            old.mark.paths,
            old.mark.values,
        )
        seen[old.rowname] = seen.get(old.rowname, 0) + int(same)
    return {name for name, count in seen.items() if count == sizes[name]}


def _row(sheet: Sheet, mark: Mark, old: StoredMark | None, units: UnitSystem) -> dict[str, Any]:
    """Return a mark's columns: fields as the page has them, the rest as the old row had them."""
    row = dict(old.row) if old is not None else dict.fromkeys(sheet.columns)
    for field in LAYER_FIELDS[sheet.layer].fields:
        text = mark.values[field.name]
        if old is not None and old.mark.values[field.name] == text:
            continue
        name = next((one for one in row if plain_name(one) == field.name), field.name)
        row[name] = typed(field, text, units)
    return row


def typed(field: LayerField, text: str, units: UnitSystem) -> Any:
    """Return a field's text as the file holds it; an invalid number stays text, for the check.

    Plain numbers are in the folder's unit; those with a unit are converted to it.
    """
    if field.quantity not in NUMBERS:
        return text
    if not text.strip():
        return math.nan
    try:
        value = read_number(text, field.quantity, units)
    except (ValueError, OverflowError):
        return text
    try:
        return float(text)
    except ValueError:
        return round(from_si(value, unit_of(field.quantity, units)), DIGITS)


def with_units(mark: Mark, units: UnitSystem, other: UnitSystem) -> Mark:
    """Return a mark with the unit behind each plain number that other units would change."""
    values = dict(mark.values)
    for field in LAYER_FIELDS[mark.layer].fields:
        if field.quantity not in NUMBERS:
            continue
        unit, text = unit_of(field.quantity, units), values[field.name].replace(",", "")
        if unit != unit_of(field.quantity, other) and _is_number(text):
            values[field.name] = f"{text} {unit}"
    return replace(mark, values=values)


def _is_number(text: str) -> bool:
    """Return whether a text is a number without a unit."""
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _frame(
    sheet: Sheet, rows: Sequence[Mapping[str, Any]], shapes: Sequence[BaseGeometry | None]
) -> gpd.GeoDataFrame:
    """Return rows as a table with its columns typed."""
    fields = LAYER_FIELDS[sheet.layer].by_name
    have = {plain_name(name) for name in sheet.columns}
    names = [*sheet.columns, *(name for name in fields if name not in have)]
    columns: dict[str, Any] = {}
    for name in names:
        values = [row.get(name) for row in rows]
        field = fields.get(plain_name(name))
        columns[name] = (
            _other_column(values, sheet.columns[name]) if field is None else _column(values, field)
        )
    geometry = gpd.GeoSeries(list(shapes), crs=sheet.crs)
    return gpd.GeoDataFrame(columns, geometry=geometry, crs=sheet.crs)


def _column(values: Sequence[Any], field: LayerField) -> pd.Series[Any]:
    """Return one of the register's columns: numbers as float64 where all are, else text."""
    if field.quantity in NUMBERS and not any(
        isinstance(value, str) and value.strip() for value in values
    ):
        numbers = [math.nan if is_nothing(value) else float(value) for value in values]
        return pd.Series(numbers, dtype="float64")
    return pd.Series([cell_text(value) for value in values], dtype="object")


def _other_column(values: Sequence[Any], kind: Any) -> pd.Series[Any]:
    """Return another program's column, in its own type where new rows leave it empty."""
    if pd.api.types.is_integer_dtype(kind) and any(is_nothing(value) for value in values):
        whole = [None if is_nothing(value) else value for value in values]
        return pd.Series(pd.array(whole, dtype="Int64"))
    column = pd.Series(list(values), dtype="object")
    try:
        return column.astype(kind)
    except (TypeError, ValueError):
        return column


def _cell(row: Mapping[str, Any], field: LayerField) -> Any:
    """Return a row's value of a field, however its column is spelt."""
    return next((value for name, value in row.items() if plain_name(name) == field.name), None)


def cell_text(value: Any) -> str:
    """Return a cell as text: numbers without needless digits, nothing as ""."""
    if is_nothing(value):
        return ""
    if isinstance(value, float | np.floating):
        return f"{value:.12g}"
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat() if value == value.normalize() else value.isoformat()
    return str(value)
