"""Layers from GPX and KML, the formats of phones and GPS devices; fields are mostly free text."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import pandas as pd

from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, quoted
from reachmap.markup.described import fill, is_nothing, plain_name
from reachmap.markup.layers import LAYER_FIELDS, LAYER_NAMES, POINT, LayerSpec
from reachmap.markup.source import Source, Sources

GPX_TABLES = {"waypoints": POINT, "routes": "LineString", "tracks": "LineString"}
"""Tables of a GPX file that can hold a layer, and their geometry."""


def from_gpx(
    path: Path, layer: str, table: str, frame: gpd.GeoDataFrame, sources: Sources
) -> list[Source]:
    """Return the layers in one table of a GPX file: by the file's name or each feature's `type`."""
    if layer:
        fits = (GPX_TABLES[table] == POINT) == (LAYER_FIELDS[layer].shapes == (POINT,))
        if not fits and layer != "hazards":
            sources.notes.append(f"{path.name}: its {table} are not read, {layer} has none.")
            return []
        parts = {layer: frame}
    else:
        kinds = frame["type"].map(lambda text: "" if is_nothing(text) else plain_name(str(text)))
        parts = {name: frame[kinds == name] for name in LAYER_NAMES if (kinds == name).any()}
        for kind in sorted(set(kinds) - set(LAYER_NAMES)):
            _strange_type(path, table, kind, int((kinds == kind).sum()), sources)
    found = []
    for name, part in parts.items():
        file = f"{path.name}, {table}"
        texts = (("name", "name"), ("note", "desc"), ("note", "cmt"))
        filled = _fill_texts(file, LAYER_FIELDS[name], part[[]], part, texts, sources)
        found.append(Source(name, file, filled, closes=True))
    return found


def _strange_type(path: Path, table: str, kind: str, count: int, sources: Sources) -> None:
    """Add a note on features of a GPX file that belong to no layer."""
    near = nearest(kind, LAYER_NAMES) if kind else None
    if near is not None:
        fix = f"Did you mean {near!r}? Correct the <type> of its {table}"
        sources.faults.append(
            Fault(path.name, f"<type> {quoted(kind)} is none of reachmap's layers", fix)
        )
    else:
        named = f"of type {quoted(kind)}" if kind else "without a <type>"
        sources.notes.append(f"{path.name}: {count} {table} {named} not read.")


KML_OWN = frozenset(
    (
        *("id", "name", "description", "snippet", "icon", "timestamp", "begin", "end"),
        *("altitudemode", "tessellate", "extrude", "visibility", "draworder"),
    )
)
"""Columns of every KML file."""


def from_kml(file: str, layer: str, frame: gpd.GeoDataFrame, sources: Sources) -> gpd.GeoDataFrame:
    """Return a KML table with its fields: extended data first, then name and description."""
    spec = LAYER_FIELDS[layer]
    extended = [name for name in frame.columns if name not in KML_OWN and name != "geometry"]
    texts = (("name", "name"), ("note", "description"))
    return _fill_texts(file, spec, frame[extended], frame, texts, sources)


def _fill_texts(
    file: str,
    spec: LayerSpec,
    given: pd.DataFrame,
    frame: gpd.GeoDataFrame,
    texts: Sequence[tuple[str, str]],
    sources: Sources,
) -> gpd.GeoDataFrame:
    """Return a table whose fields are filled from the free texts of its features.

    `texts` names for each text column the field that takes its rest, as (field, column).
    """
    fields = [one.name for one in spec.fields]
    rows: list[dict[str, object]] = []
    for number, row, source in zip(
        frame.index,
        given.to_dict("records"),
        frame.drop(columns="geometry").to_dict("records"),
        strict=True,
    ):
        filled = {str(name): value for name, value in row.items()}
        told = [
            (home, str(source[column]))
            for home, column in texts
            if column in source and not is_nothing(source[column])
        ]
        sources.faults += fill(filled, told, fields, f"{spec.name} (feature {number} of {file})")
        rows.append(filled)
    table = pd.DataFrame(rows, index=frame.index).astype(object)
    return gpd.GeoDataFrame(table, geometry=frame.geometry, crs=frame.crs)
