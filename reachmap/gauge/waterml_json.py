"""WaterML 1.1 as JSON, as the older instantaneous and daily services of the US agency give it.

value / timeSeries: each with sourceInfo (siteCode, siteName), variable (variableCode, unit,
noDataValue) and values / value: [{value, dateTime, qualifiers}]. Facts of the format:
docs/sources.md, "Gauge files".
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.json_values import first, loaded, mapping, mappings, words
from reachmap.gauge.ogc_json import FETCH, KINDS, PARAMETERS
from reachmap.gauge.parts import UNIT_SPELLINGS, Held, Parts, Series, numbers, utc_from_texts
from reachmap.gauge.waterml import DAILY_GAP

OWN_UNITS = {Held.FLOW: "ft3/s", Held.STAGE: "ft"}
"""Units of the parameters 00060 and 00065, for responses that leave them out."""


def is_waterml_json(text: str) -> bool:
    """Return whether a text is in this format."""
    return text.lstrip()[:1] == "{" and '"timeSeries"' in text


def read_waterml_json(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add the records of flow and stage to `parts`."""
    document = mapping(loaded(file, text, parts))
    if not document:
        return
    series = mappings(mapping(document.get("value")).get("timeSeries"))
    sites = sorted({_site(one) for one in series})
    if len(sites) > 1:
        fix = "Keep the one gauge that speaks for the reach"
        parts.fault(file, f"it holds {len(sites)} gauges ({', '.join(sites[:5])})", fix)
        return
    others, found = [], False
    for one in series:
        code = words(first(mapping(one.get("variable")).get("variableCode")).get("value"))
        if code not in PARAMETERS:
            others.append(code)
            continue
        parts.name = parts.name or words(mapping(one.get("sourceInfo")).get("siteName"))
        found |= _series(file, PARAMETERS[code], one, zone, parts)
    if not found and not any(file in fault.where for fault in parts.faults):
        held = quoted(", ".join(others) or "nothing")
        parts.fault(file, f"it holds neither flow nor stage ({held})", FETCH)


def _site(one: Mapping[str, Any]) -> str:
    """Return the site number of a series."""
    return words(first(mapping(one.get("sourceInfo")).get("siteCode")).get("value"))


def _series(file: str, held: Held, one: Mapping[str, Any], zone: str, parts: Parts) -> bool:
    """Add one record; return whether there was one."""
    variable = mapping(one.get("variable"))
    code = words(mapping(variable.get("unit")).get("unitCode")) or OWN_UNITS[held]
    unit = UNIT_SPELLINGS.get(code.lower(), "")
    if unit not in KINDS[held]:
        parts.fault(file, f"the unit of its {held}, {quoted(code)}, is not known", "Fetch it again")
        return False
    rows = [row for part in mappings(one.get("values")) for row in mappings(part.get("value"))]
    if not rows:
        return False
    values = numbers([row.get("value") for row in rows])
    none = numbers([variable.get("noDataValue")])[0]
    values = np.where(values == none, np.nan, values)
    times = utc_from_texts([words(row.get("dateTime")) for row in rows], zone)
    good = np.sort(times[~np.isnat(times)])
    daily = good.size > 1 and bool(np.median(np.diff(good)) > DAILY_GAP)
    parts.series.append(Series(file, held, times, to_si(values, unit), daily))
    return True
