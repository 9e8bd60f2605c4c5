"""The log as CSV or GeoJSON, out and in; places are left out by default."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable
from typing import Any

from reachmap.base.csv_cells import escaped_cell, read_cell
from reachmap.base.errors import Fault
from reachmap.logbook.model import Entry
from reachmap.logbook.rows import (
    COUNTS,
    NUMBERS,
    TEXTS,
    LocalTime,
    RowsError,
    entries_of_rows,
)

PLACES = ("longitude", "latitude", "station_m", "bank", "seen")
COLUMNS = ("uid", "when", "zone", *TEXTS, *NUMBERS.values(), *COUNTS)
"""Columns of the CSV, SI units; `when` is ISO 8601 with its offset, `seen` JSON."""


def as_csv(entries: Iterable[Entry], *, places: bool = False) -> str:
    """Return entries as CSV text (RFC 4180); texts cannot be run as formulas by a spreadsheet."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, [*COLUMNS, *PLACES] if places else list(COLUMNS))
    writer.writeheader()
    for entry in entries:
        row = _row(entry)
        if places:
            row["seen"] = json.dumps(_seen_rows(entry)) if entry.seen else ""
            row["longitude"], row["latitude"] = _blank(entry.x), _blank(entry.y)
            row["station_m"], row["bank"] = _blank(entry.station_m), entry.bank
        writer.writerow({name: escaped_cell(value) for name, value in row.items()})
    return stream.getvalue()


def as_geojson(entries: Iterable[Entry], *, places: bool = False) -> str:
    """Return entries as GeoJSON text (RFC 7946): a feature each, no geometry without places."""
    features = []
    for entry in entries:
        values: dict[str, Any] = {key: value for key, value in _row(entry).items() if value != ""}
        geometry = None
        if places:
            values["seen"] = _seen_rows(entry)
            if not math.isnan(entry.station_m):
                values["station_m"], values["bank"] = entry.station_m, entry.bank
            if not math.isnan(entry.x):
                geometry = {"type": "Point", "coordinates": [entry.x, entry.y]}
        features.append({"type": "Feature", "geometry": geometry, "properties": values})
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False)


def from_csv(text: str, *, local: LocalTime | None = None) -> list[Entry]:
    """Return the entries of CSV text.

    Parameters
    ----------
    text
        The file's text.
    local
        Gives a time without a zone, as a spreadsheet writes it, its zone; None refuses it.

    Raises
    ------
    RowsError
        Listing every row that cannot be kept, with what to mend.
    """
    try:
        rows = [
            {name: read_cell(cell) if isinstance(cell, str) else cell for name, cell in row.items()}
            for row in csv.DictReader(io.StringIO(text, newline=""))  # line ends of any kind
        ]
    except csv.Error as error:
        fix = "Give a CSV as reachmap exports it"
        raise RowsError([Fault("the file", f"it cannot be read ({error})", fix)]) from None
    numbered = [(f"row {number}", row) for number, row in enumerate(rows, start=2)]
    return entries_of_rows(numbered, local)


def from_geojson(text: str, *, local: LocalTime | None = None) -> list[Entry]:
    """Return the entries of GeoJSON text; `local` and faults as `from_csv`."""
    try:
        features = json.loads(text)["features"]
        values = [({**f["properties"]}, _place(f.get("geometry"))) for f in features]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        fix = "Give a GeoJSON FeatureCollection as reachmap exports it"
        raise RowsError([Fault("the file", f"it cannot be read ({error})", fix)]) from None
    rows = []
    for number, (row, (x, y)) in enumerate(values, start=1):
        rows.append((f"feature {number}", {**row, "longitude": x, "latitude": y}))
    return entries_of_rows(rows, local)


def _place(geometry: object) -> tuple[Any, Any]:
    """Return the first two coordinates of a point; empty texts where there are none."""
    values = geometry.get("coordinates") if isinstance(geometry, dict) else None
    return (values[0], values[1]) if isinstance(values, list) and len(values) > 1 else ("", "")


def _row(entry: Entry) -> dict[str, Any]:
    """Return an entry's columns without its places."""
    zone = getattr(entry.when.tzinfo, "key", "")
    row: dict[str, Any] = {"uid": entry.uid, "when": entry.when.isoformat(), "zone": zone}
    row |= {name: getattr(entry, name) for name in (*TEXTS, *COUNTS)}
    row |= {column: _blank(getattr(entry, name)) for name, column in NUMBERS.items()}
    return row


def _seen_rows(entry: Entry) -> list[dict[str, Any]]:
    """Return what was seen as plain values."""
    return [
        {
            "kind": str(seen.kind),
            "longitude": seen.x,
            "latitude": seen.y,
            "value": None if math.isnan(seen.value) else seen.value,
            "note": seen.note,
        }
        for seen in entry.seen
    ]


def _blank(value: float) -> float | str:
    """Return an empty cell for NaN."""
    return "" if math.isnan(value) else value
