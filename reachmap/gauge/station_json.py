"""Features of hydrometric stations, as the Canadian weather service's OGC API gives them.

A FeatureCollection of properties STATION_NUMBER, STATION_NAME, DATETIME (UTC) or DATE (a day's
mean), LEVEL [m] and DISCHARGE [m3/s]. Facts of the format: docs/sources.md, "Gauge files".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from reachmap.gauge.json_values import loaded, mapping, mappings, words
from reachmap.gauge.parts import Held, Parts, Series, numbers, utc_or_noon

COLUMNS = {Held.FLOW: "DISCHARGE", Held.STAGE: "LEVEL"}

FETCH = "Fetch the collection hydrometric-realtime or hydrometric-daily-mean of one station"


def is_station_json(text: str) -> bool:
    """Return whether a text is in this format."""
    return text.lstrip()[:1] == "{" and '"STATION_NUMBER"' in text and '"features"' in text


def read_station_json(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add the records of flow and stage to `parts`."""
    collection = mapping(loaded(file, text, parts))
    if not collection:
        return
    rows = [mapping(one.get("properties")) for one in mappings(collection.get("features"))]
    stations = sorted({words(row.get("STATION_NUMBER")) for row in rows})
    if len(stations) != 1:
        fix = "Keep the one station that speaks for the reach"
        parts.fault(file, f"it holds {len(stations)} stations ({', '.join(stations[:5])})", fix)
        return
    parts.name = parts.name or words(rows[0].get("STATION_NAME")).title()
    found = [_series(file, held, rows, zone, parts) for held in COLUMNS]
    if not any(found):
        parts.fault(file, "no row of it has a level or a discharge", FETCH)


def _series(
    file: str, held: Held, rows: Sequence[Mapping[str, Any]], zone: str, parts: Parts
) -> bool:
    """Add one record; return whether there was one."""
    values = numbers([row.get(COLUMNS[held]) for row in rows])
    if not np.isfinite(values).any():
        return False
    texts = [words(row.get("DATETIME")) or words(row.get("DATE"))[:10] for row in rows]
    times, daily = utc_or_noon(texts, zone)
    parts.series.append(Series(file, held, times, values, daily))
    return True
