"""The draft file of a reach folder: features still open, accepted or dropped.

A file of its own, in one table that no reader of drawings takes for a layer, so that a drafted
feature is no evidence until the angler accepts it into the drawing.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
from shapely.geometry.base import BaseGeometry

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.geopackage import PACKAGE_VERSION
from reachmap.base.safe_files import RefusedError
from reachmap.base.vectors import open_vector
from reachmap.draft.draft import Draft
from reachmap.markup.files import DRAFT_FILE
from reachmap.markup.layers import LAYER_FIELDS, LINE, NUMBERS, POLYGON
from reachmap.markup.sources import CANNOT_READ

TABLE = "draft"

LIKE_AREA = 0.5
"""Outlines that share this much of what they cover are the same piece (our choice, 0.4-0.7)."""

LIKE_M = 15.0
"""Points this near, and lines most of which lie this near, are the same [m] (our choice, 10-25)."""


class State(StrEnum):
    """Decision on a drafted feature."""

    OPEN = "open"
    ACCEPTED = "accepted"
    DROPPED = "dropped"


@dataclass(frozen=True, slots=True)
class StoredFeature:
    """A drafted feature as stored.

    Parameters
    ----------
    key
        Permanent identifier.
    state
        Decision on it.
    layer, shape, values
        As in `Drafted`, the shape in the CRS of the draft.
    """

    key: str
    state: State
    layer: str
    shape: BaseGeometry
    values: Mapping[str, str | float]


@dataclass(frozen=True, slots=True)
class StoredDraft:
    """A folder's draft: its features and their CRS."""

    crs: str
    held: tuple[StoredFeature, ...]

    @property
    def open(self) -> tuple[StoredFeature, ...]:
        """Return the features not decided yet."""
        return tuple(one for one in self.held if one.state is State.OPEN)


def draft_in(folder: Path) -> StoredDraft | None:
    """Return a folder's draft; None where there is none.

    Raises
    ------
    MarkupError
        If the file is not a draft, or cannot be read.
    """
    path = folder / DRAFT_FILE
    if not path.exists():
        return None
    fix = "Move it away: reachmap draft makes a new one"
    try:
        with open_vector(path, folder) as file:
            frame = file.read(TABLE, on_invalid="ignore")
    except RefusedError as error:
        raise MarkupError([Fault(path.name, error.found, error.fix)]) from None
    except CANNOT_READ as error:
        fault = Fault(path.name, f"it cannot be read ({str(error)[:160]})", fix)
        raise MarkupError([fault]) from None
    if not isinstance(frame, gpd.GeoDataFrame) or frame.crs is None:
        raise MarkupError([Fault(path.name, "it is no draft", fix)])
    held = [one for row in frame.to_dict("records") if (one := _feature(row)) is not None]
    return StoredDraft(frame.crs.to_string(), tuple(held))


def _feature(row: Mapping[str, Any]) -> StoredFeature | None:
    """Return a row as a feature; None for one that is no feature of the drawing."""
    layer, shape = str(row.get("layer")), row.get("geometry")
    spec = LAYER_FIELDS.get(layer)
    if spec is None or not isinstance(shape, BaseGeometry) or shape.is_empty:
        return None
    if shape.geom_type not in spec.shapes or str(row.get("state")) not in set(State):
        return None
    values: dict[str, str | float] = {}
    for field in spec.fields:
        text = row.get(field.name)
        if not isinstance(text, str) or not text:
            continue
        if field.quantity in NUMBERS:
            try:
                values[field.name] = float(text)
            except ValueError:
                continue
        else:
            values[field.name] = text
    return StoredFeature(str(row.get("key")), State(str(row["state"])), layer, shape, values)


def keep(folder: Path, kept: StoredDraft) -> None:
    """Write a draft: whole or not at all; the drawing is not touched."""
    names = sorted({name for spec in LAYER_FIELDS.values() for name in spec.by_name})
    columns: dict[str, list[str]] = {name: [] for name in ("key", "state", "layer", *names)}
    for one in kept.held:
        row = {"key": one.key, "state": one.state.value, "layer": one.layer}
        row |= {name: str(value) for name, value in one.values.items()}
        for name, column in columns.items():
            column.append(row.get(name, ""))
    shapes = gpd.GeoSeries([one.shape for one in kept.held], crs=kept.crs)
    frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=kept.crs)
    write_aside(
        folder / DRAFT_FILE,
        lambda aside: pyogrio.write_dataframe(
            frame, aside, layer=TABLE, driver="GPKG", geometry_type="Unknown",
            VERSION=PACKAGE_VERSION,
        ),
    )  # fmt: skip


def merged(
    draft: Draft, before: StoredDraft | None, drawn: Mapping[str, Sequence[BaseGeometry]]
) -> StoredDraft:
    """Return a new draft merged with earlier decisions, in the draft's CRS.

    Open features are replaced. Accepted and dropped ones stay, and nothing like them is proposed
    again; nor is a feature that is drawn already.

    Parameters
    ----------
    draft
        The new draft.
    before
        The stored one; None for none.
    drawn
        The drawing's shapes by layer, in the draft's CRS.
    """
    decided: tuple[StoredFeature, ...] = ()
    if before is not None:
        decided = tuple(one for one in before.held if one.state is not State.OPEN)
        if before.crs != draft.crs and decided:
            shapes = gpd.GeoSeries([one.shape for one in decided], crs=before.crs).to_crs(draft.crs)
            moved = zip(decided, shapes, strict=True)
            decided = tuple(replace(one, shape=shape) for one, shape in moved)
    fresh = [
        StoredFeature(uuid.uuid4().hex[:12], State.OPEN, one.layer, one.shape, one.values)
        for one in draft.features
        if not any(one.layer == old.layer and alike(one.shape, old.shape) for old in decided)
        and not any(covered(one.shape, shape) for shape in drawn.get(one.layer, ()))
    ]
    return StoredDraft(draft.crs, (*decided, *fresh))


def alike(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Return whether two shapes are the same piece of river, drawn slightly differently."""
    if one.geom_type != other.geom_type:
        return False
    if one.geom_type == POLYGON:
        return bool(one.intersection(other).area >= LIKE_AREA * one.union(other).area)
    if one.geom_type == LINE:
        return all(
            a.intersection(b.buffer(LIKE_M)).length >= 0.8 * a.length
            for a, b in ((one, other), (other, one))
        )
    return bool(one.distance(other) <= LIKE_M)


def covered(one: BaseGeometry, drawn: BaseGeometry) -> bool:
    """Return whether half or more of a drafted shape is drawn already."""
    if one.geom_type == POLYGON:
        return drawn.geom_type == POLYGON and bool(
            one.intersection(drawn).area >= LIKE_AREA * one.area
        )
    if one.geom_type == LINE:
        return drawn.geom_type == LINE and bool(
            one.intersection(drawn.buffer(LIKE_M)).length >= 0.8 * one.length
        )
    return bool(one.distance(drawn) <= LIKE_M)


def decided(kept: StoredDraft, states: Mapping[str, State]) -> StoredDraft:
    """Return a draft with some of its features decided, by key; unknown keys are left out."""
    held = tuple(replace(one, state=states.get(one.key, one.state)) for one in kept.held)
    return StoredDraft(kept.crs, held)


def counts(held: Iterable[StoredFeature]) -> dict[str, int]:
    """Return how many features there are of each layer, in the order of the layers."""
    found = [one.layer for one in held]
    return {name: found.count(name) for name in LAYER_FIELDS if name in found}
