"""Features of the drawing: geometry in the project's CRS, values in SI, and their faults."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import inside
from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, one_of, quoted
from reachmap.base.words import UnitSystem
from reachmap.markup.described import is_nothing, plain_name
from reachmap.markup.layers import LAYER_FIELDS, LINE, NUMBERS, POLYGON, LayerField, LayerSpec
from reachmap.markup.outlines import closed_line, shape_fault, single_parts
from reachmap.markup.quantities import number_within
from reachmap.markup.source import Source

SHAPEFILE_NAME = 10
"""Characters a shapefile keeps of a field's name."""

ANOTHER_WORD = frozenset({"fid", "id", "ogc_fid", "geometry", "layer", "path", "type"})
"""Columns added by other programs: never taken for a misspelt field."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One drawn feature.

    Parameters
    ----------
    layer
        Its layer's name.
    where
        Its name in messages.
    shape
        Single geometry in the project's CRS; None where it is at fault.
    values
        Value of each field of the layer: number [SI], NaN if not given or at fault; word, None if
            at fault; or text.
    wrong
        Names of the fields at fault.
    """

    layer: str
    where: str
    shape: BaseGeometry | None
    values: Mapping[str, Any]
    wrong: frozenset[str] = frozenset()


def read_features(source: Source, crs: str, units: UnitSystem) -> tuple[list[Feature], list[Fault]]:
    """Return the features of a source and the faults of each by itself.

    Parameters
    ----------
    source
        A layer as read; one without a CRS gives features without shapes.
    crs
        The project's metric CRS, "" where unknown.
    units
        The folder's units, for plain numbers.
    """
    spec = LAYER_FIELDS[source.layer]
    columns, faults = _columns(spec, source)
    own = source.frame.crs.to_string() if source.frame.crs is not None else ""
    drawn: list[Feature] = []
    rows = source.frame.drop(columns="geometry").to_dict("records")
    for number, row, shape in zip(source.frame.index, rows, source.frame.geometry, strict=True):
        where = _where(source, number, row.get(columns.get("name", "")))
        given_values = {field: row.get(column) for field, column in columns.items()}
        values, wrong = read_values(spec, given_values, units)
        faults += [Fault(where, *fault) for fault in wrong.values()]
        parts = [None] if shape is None else single_parts(shape)
        for index, part in enumerate(parts, start=1):
            named = where if len(parts) == 1 else f"{where}, part {index}"
            closed = _closed(part, spec, closes=source.closes)
            fault = shape_fault(closed, spec.shapes, own)
            if fault is not None:
                faults.append(Fault(named, *fault))
            shape = closed if fault is None else None
            drawn.append(Feature(source.layer, named, shape, values, frozenset(wrong)))
    shapes, lost = _moved([one.shape for one in drawn], source, crs)
    faults += [Fault(drawn[index].where, *OUTSIDE) for index in lost]
    moved = [replace(one, shape=shape) for one, shape in zip(drawn, shapes, strict=True)]
    return moved, faults


OUTSIDE = ("it lies outside the world its CRS describes", "Check the CRS of its file")
"""Fault of a shape without finite coordinates in the project's CRS."""


def _where(source: Source, number: object, label: object) -> str:
    """Return a feature's name in messages."""
    name = "" if is_nothing(label) else f" {quoted(str(label), 40)}"
    return f"{source.layer}{name} (feature {number} of {source.file})"


def read_values(
    spec: LayerSpec, given_values: Mapping[str, Any], units: UnitSystem
) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """Return a feature's values, and for each field at fault what was found and the remedy.

    Parameters
    ----------
    spec
        The layer.
    given_values
        Values in the file, by field; fields may be missing.
    units
        Units of plain numbers.
    """
    values: dict[str, Any] = {}
    faults: dict[str, tuple[str, str]] = {}
    for field in spec.fields:
        given = given_values.get(field.name)
        value: Any = "" if is_nothing(given) else _text(given)
        wrong: tuple[str, str] | None = None
        if field.quantity in NUMBERS:
            value, wrong = _number(field, given, units)
        elif field.words is not None:
            value, wrong = _word(field, given)
        values[field.name] = value
        if wrong is not None:
            faults[field.name] = wrong
    return values, faults


def _number(
    field: LayerField, given: object, units: UnitSystem
) -> tuple[float, tuple[str, str] | None]:
    """Return a number [SI] and its fault."""
    limits = (field.low, field.high)
    value, wrong = number_within(
        None if is_nothing(given) else given, field.quantity, units, limits
    )
    if wrong is not None:
        return value, (f"{field.name}: {wrong[0]}", wrong[1])
    if math.isnan(value) and field.required:
        return value, (f"{field.name} is not given", f"Fill it in: {_lower(field.meaning)}")
    return value, None


def _word(field: LayerField, given: object) -> tuple[Any, tuple[str, str] | None]:
    """Return one of the field's words; None and the fault where it is not one."""
    words = field.words
    if words is None:
        return None, None
    known = [str(word) for word in words]
    if is_nothing(given):
        if field.default is not None:
            return field.default, None
        return None, (f"{field.name} is not given", f"Use one of: {', '.join(known)}")
    text = " ".join(str(given).lower().replace("_", " ").replace("-", " ").split())
    if text in known:
        return words(text), None
    return None, (f"{field.name} is {quoted(str(given))}", one_of(text, known))


def _text(given: object) -> str:
    """Return a cell as text; a date without the midnight that a reader appended."""
    if isinstance(given, pd.Timestamp):
        plain = given == given.normalize() and given.tzinfo is None
        return given.date().isoformat() if plain else given.isoformat()
    return str(given)


def _columns(spec: LayerSpec, source: Source) -> tuple[dict[str, str], list[Fault]]:
    """Return the file's column for each field, and faults for columns that look misspelt."""
    names = [str(name) for name in source.frame.columns if name != "geometry"]
    found: dict[str, str] = {}
    for field in spec.fields:
        short = field.name[:SHAPEFILE_NAME]
        for name in names:
            if plain_name(name) in {field.name, short}:
                found.setdefault(field.name, name)
    missing = [field.name for field in spec.fields if field.name not in found]
    faults = []
    for name in names:
        if name in found.values() or plain_name(name) in ANOTHER_WORD:
            continue
        near = nearest(name, missing)
        if near is not None:
            fix = f"Did you mean {near!r}? Rename it, or take it out"
            faults.append(Fault(source.file, f"{spec.name} has a column {quoted(name)}", fix))
    return found, faults


def _closed(part: BaseGeometry | None, spec: LayerSpec, *, closes: bool) -> BaseGeometry | None:
    """Return a line as a polygon where the layer needs polygons and its format has none."""
    if part is None or part.geom_type != LINE or LINE in spec.shapes or POLYGON not in spec.shapes:
        return part
    return closed_line(part) if closes or part.is_closed else part


def _moved(
    shapes: Sequence[BaseGeometry | None], source: Source, crs: str
) -> tuple[list[BaseGeometry | None], list[int]]:
    """Return shapes in the project's CRS, None where impossible, and the rows that failed."""
    if not crs or source.frame.crs is None:
        return [None] * len(shapes), []
    frame = gpd.GeoDataFrame(geometry=list(shapes), crs=source.frame.crs)
    moved: list[BaseGeometry | None] = []
    lost: list[int] = []
    for index, shape in enumerate(inside(frame, crs).geometry):
        if shape is not None and not np.isfinite(shapely.get_coordinates(shape)).all():
            lost.append(index)
            moved.append(None)
        else:
            moved.append(shape)
    return moved, lost


def _lower(sentence: str) -> str:
    """Return a sentence in lower case at its start, for use within another."""
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def all_of(features: Sequence[Feature]) -> list[BaseGeometry]:
    """Return the shapes that are not at fault."""
    return [feature.shape for feature in features if feature.shape is not None]
