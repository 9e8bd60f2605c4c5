"""Stage and flow of a forecast point, as the US National Water Prediction Service serves them.

``/gauges/{identifier}/stageflow`` gives {"observed": {...}, "forecast": {...}};
``/stageflow/forecast`` gives one of the two alone. Each has primaryName, primaryUnits,
secondaryName, secondaryUnits, issuedTime and data: [{validTime, generatedTime, primary,
secondary}]; -999 and -9999 mean none. Facts of the format: docs/sources.md, "Gauge files".
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.json_values import loaded, mapping, mappings, words
from reachmap.gauge.ogc_json import KINDS
from reachmap.gauge.parts import UNIT_SPELLINGS, Held, Parts, Series, numbers, utc_from_texts

OBSERVED, FORECAST = "observed", "forecast"

NO_VALUE = -999.0
"""Values at or below this mark missing ones; no gauge height is 304 m below its zero."""

FIX = "Fetch the gauge's stageflow again, or a CSV of time and flow"


def is_stageflow(text: str) -> bool:
    """Return whether a text is in this format."""
    return text.lstrip()[:1] == "{" and '"primaryUnits"' in text and '"validTime"' in text


def read_stageflow(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add the observed series to `parts`, or the forecast one where `parts.forecast` is set."""
    document = mapping(loaded(file, text, parts))
    if not document:
        return
    products = {
        name: mapping(document.get(name)) for name in (OBSERVED, FORECAST) if name in document
    }
    if not products:
        products = {_product(document): document}
    wanted = FORECAST if parts.forecast else OBSERVED
    found = mappings(products.get(wanted, {}).get("data"))
    if not found and wanted == OBSERVED and mappings(products.get(FORECAST, {}).get("data")):
        parts.notes.append(f"gauge file {file}: a forecast is no record. {HOW}")
        return
    if not found:
        parts.fault(file, f"nothing is {wanted} in it", FIX)
        return
    if wanted == OBSERVED and FORECAST in products:
        parts.notes.append(f"gauge file {file}: its forecast is no record. {HOW}")
    _series(file, products[wanted], found, zone, parts)


HOW = "Give the file with --forecast to use it."


def _product(document: Mapping[str, Any]) -> str:
    """Return whether a single product is observed or forecast, by its SHEF code.

    The last letter but one of the code is R for readings and F for forecasts: HGIRG, HGIFF.
    """
    code = words(document.get("pedts")).upper()
    return FORECAST if len(code) == 5 and code[3] == "F" else OBSERVED


def _series(
    file: str, product: Mapping[str, Any], rows: list[Mapping[str, Any]], zone: str, parts: Parts
) -> None:
    """Add the flow and the stage of a product."""
    texts = [words(row.get("validTime")) for row in rows]
    times = utc_from_texts(texts, zone)
    lost = int(np.isnat(times).sum())
    if lost:
        parts.notes.append(f"gauge file {file}: {lost} times make no sense and are left out.")
    units = []
    for column in ("primary", "secondary"):
        unit = UNIT_SPELLINGS.get(words(product.get(f"{column}Units")).lower(), "")
        units.append(words(product.get(f"{column}Units")))
        held = next((kind for kind, known in KINDS.items() if unit in known), None)
        if held is None:
            continue
        values = numbers([row.get(column) for row in rows])
        values = np.where(values > NO_VALUE, values, np.nan)
        if held is Held.FLOW:
            values = np.where(values >= 0, values, np.nan)
        if np.isfinite(values).any():
            parts.series.append(Series(file, held, times, to_si(values, unit)))
    if not any(series.file == file for series in parts.series):
        found = f"it has neither flow nor stage (units {quoted(', '.join(units))})"
        parts.fault(file, found, FIX)
