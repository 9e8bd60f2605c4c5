"""Messages between page and server: marks as plain JSON, validated before use."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reachmap.base.errors import ReachmapError
from reachmap.markup.layers import LAYER_FIELDS, LINE, POINT, POLYGON

MOST_MARKS = 20_000
MOST_CORNERS = 400_000
LONGEST_TEXT = 20_000
"""Largest drawing and longest text of a field taken from the page (our choice)."""

FEWEST_CORNERS = {POINT: 1, LINE: 2, POLYGON: 3}
"""Corners each kind of geometry needs."""

Corner = tuple[float, float]
Path = tuple[Corner, ...]


class MessageError(ReachmapError):
    """What the page sent cannot be a drawing."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One drawn thing as the page sees it.

    Parameters
    ----------
    id
        Known to page and server for one run.
    layer
        Name in the register of layers.
    shape
        LineString, Polygon or Point; "" where nothing is drawn.
    paths
        Corners in WGS84 (longitude, latitude) [degrees]: the line, the point, or a polygon's rings,
        outer first, each without the corner that closes it.
    values
        Each field of the layer as text; "" for nothing.
    """

    id: str
    layer: str
    shape: str
    paths: tuple[Path, ...]
    values: Mapping[str, str]

    def as_json(self) -> dict[str, Any]:
        """Return it as the page takes it."""
        return {
            "id": self.id,
            "layer": self.layer,
            "shape": self.shape,
            "paths": self.paths,
            "values": dict(self.values),
        }


@dataclass(frozen=True, slots=True)
class DrawingMessage:
    """A drawing as the page sent it: the version it was made from, marks, and the line begun."""

    version: int
    marks: tuple[Mark, ...]
    draft: Mark | None


def parsed(body: bytes) -> dict[str, Any]:
    """Return the JSON object of a body.

    Raises
    ------
    MessageError
        If it is none.
    """
    try:
        message = json.loads(body)
    except (ValueError, RecursionError):
        message = None
    if not isinstance(message, dict):
        msg = "What the page sent is not a JSON object."
        raise MessageError(msg)
    return message


def version_of(message: Mapping[str, Any]) -> int:
    """Return the version a message was made from."""
    version = message.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        msg = "What the page sent has no version."
        raise MessageError(msg)
    return version


def read_drawing(body: bytes) -> DrawingMessage:
    """Return the drawing in a body.

    Raises
    ------
    MessageError
        If it is not one, or too large.
    """
    message = parsed(body)
    given = message.get("marks")
    if not isinstance(given, list) or len(given) > MOST_MARKS:
        msg = f"A drawing holds at most {MOST_MARKS:,} marks."
        raise MessageError(msg)
    marks = tuple(read_mark(item) for item in given)
    if len({mark.id for mark in marks}) < len(marks):
        msg = "Two marks have the same id."
        raise MessageError(msg)
    if sum(len(path) for mark in marks for path in mark.paths) > MOST_CORNERS:
        msg = f"A drawing holds at most {MOST_CORNERS:,} corners."
        raise MessageError(msg)
    draft = message.get("draft")
    return DrawingMessage(
        version_of(message), marks, None if draft is None else read_mark(draft, whole=False)
    )


def read_mark(given: object, *, whole: bool = True) -> Mark:
    """Return one mark of a message; `whole` false lets a line that is still being drawn pass."""
    if not isinstance(given, dict):
        msg = "A mark is not an object."
        raise MessageError(msg)
    layer, name = given.get("layer"), given.get("id")
    spec = LAYER_FIELDS.get(layer) if isinstance(layer, str) else None
    if spec is None or not isinstance(name, str) or not 0 < len(name) <= 80:
        msg = "A mark is of no known layer or has no id."
        raise MessageError(msg)
    shape = given.get("shape")
    if shape not in (*FEWEST_CORNERS, ""):
        msg = "A mark is neither line, polygon nor point."
        raise MessageError(msg)
    fewest = 0 if not whole or not shape else FEWEST_CORNERS[shape]
    paths = _paths(given.get("paths"), fewest)
    if whole and shape and not paths:
        msg = "A mark has no corners."
        raise MessageError(msg)
    return Mark(name, spec.name, shape, paths, _values(given.get("values"), list(spec.by_name)))


def _paths(given: object, fewest: int) -> tuple[Path, ...]:
    """Return the corners of a mark."""
    if not isinstance(given, list) or not all(isinstance(path, list) for path in given):
        msg = "A mark's corners are not lists."
        raise MessageError(msg)
    paths = tuple(tuple(_corner(corner) for corner in path) for path in given)
    if any(len(path) < fewest for path in paths):
        msg = "A mark has too few corners."
        raise MessageError(msg)
    return paths


def _corner(given: object) -> Corner:
    """Return one corner, inside the world."""
    if isinstance(given, list) and len(given) == 2 and all(_is_number(one) for one in given):
        longitude, latitude = float(given[0]), float(given[1])
        if abs(longitude) <= 540 and abs(latitude) <= 90:
            return longitude, latitude
    msg = "A corner is not longitude and latitude."
    raise MessageError(msg)


def _values(given: object, fields: Sequence[str]) -> dict[str, str]:
    """Return a mark's fields as text."""
    if not isinstance(given, dict) or not given.keys() <= set(fields):
        msg = "A mark has fields its layer does not know."
        raise MessageError(msg)
    for text in given.values():
        if not isinstance(text, str) or len(text) > LONGEST_TEXT:
            msg = f"A field holds at most {LONGEST_TEXT:,} signs of text."
            raise MessageError(msg)
    return {field: _storable(given.get(field, "")) for field in fields}


def _storable(text: str) -> str:
    """Return text that a file can hold: without null signs and halves of signs."""
    return text.replace("\0", "").encode("utf-8", "replace").decode("utf-8")


def _is_number(value: object) -> bool:
    """Return whether a JSON value is a finite number."""
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and math.isfinite(value)  # type: ignore[arg-type]
