"""WaterML 2.0 (OGC 10-126): time series of water observations as XML.

Collection / observationMember / OM_Observation / result / MeasurementTimeseries / point /
MeasurementTVP with time and value; a missing value is marked nil. Facts of the format:
docs/sources.md, "Gauge files".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.ogc_json import KINDS
from reachmap.gauge.parts import UNIT_SPELLINGS, Held, Parts, Series, numbers, utc_or_noon

SPACES = {
    "wml2": "http://www.opengis.net/waterml/2.0",
    "om": "http://www.opengis.net/om/2.0",
    "gml": "http://www.opengis.net/gml/3.2",
}

TITLE = "{http://www.w3.org/1999/xlink}title"
HREF = "{http://www.w3.org/1999/xlink}href"

WORDS = {
    Held.FLOW: re.compile(r"00060|discharge|stream\s*flow|\bflow\b", re.IGNORECASE),
    Held.STAGE: re.compile(r"00065|ga[u]?ge height|\bstage\b|water level", re.IGNORECASE),
}
"""Words by which the observed property is recognised."""

DAILY_GAP = np.timedelta64(20 * 3600, "s")
"""Readings farther apart than this are daily means (our choice)."""


def is_waterml(text: str) -> bool:
    """Return whether a text is WaterML 2.0."""
    return SPACES["wml2"] in text[:20_000]


def read_waterml(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add the records of flow and stage of a WaterML file to `parts`."""
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        parts.fault(file, "it declares entities, which a record needs none of", "Take it out")
        return
    try:
        root = ET.fromstring(text)
    except ET.ParseError as error:
        parts.fault(file, f"it is not whole XML ({quoted(str(error))})", "Fetch it again")
        return
    name = root.find("gml:name", SPACES)
    parts.name = parts.name or ("" if name is None or not name.text else name.text.strip())
    found = False
    others: list[str] = []
    for observation in root.iter(f"{{{SPACES['om']}}}OM_Observation"):
        observed = observation.find("om:observedProperty", SPACES)
        title = (
            ""
            if observed is None
            else f"{observed.get(TITLE, '')} {observed.get(HREF, '')}".strip()
        )
        held = next((kind for kind, words in WORDS.items() if words.search(title)), None)
        if held is None:
            others.append(title.split(" http")[0])
        else:
            found |= _series(file, held, observation, zone, parts)
    if not found and not any(file in fault.where for fault in parts.faults):
        fix = "Fetch discharge or gauge height"
        parts.fault(file, f"it holds neither flow nor stage ({quoted(', '.join(others))})", fix)


def _series(file: str, held: Held, observation: ET.Element, zone: str, parts: Parts) -> bool:
    """Add one record; return whether it could be read."""
    uom = observation.find(".//wml2:uom", SPACES)
    code = "" if uom is None else uom.get("code", "")
    unit = UNIT_SPELLINGS.get(code.lower(), "")
    if unit not in KINDS[held]:
        parts.fault(file, f"the unit of its {held}, {quoted(code)}, is not known", "Fetch it again")
        return False
    pairs = list(_points(observation))
    if not pairs:
        return False
    times, daily = utc_or_noon([when for when, _ in pairs], zone)
    good = times[~np.isnat(times)]
    daily = daily or (good.size > 1 and bool(np.median(np.diff(good)) > DAILY_GAP))
    parts.series.append(
        Series(file, held, times, to_si(numbers([v for _, v in pairs]), unit), daily)
    )
    return True


def _points(observation: ET.Element) -> Iterator[tuple[str, str | None]]:
    """Yield time and value of each point, None for a value marked nil."""
    for point in observation.iter(f"{{{SPACES['wml2']}}}MeasurementTVP"):
        when, value = point.find("wml2:time", SPACES), point.find("wml2:value", SPACES)
        yield (
            "" if when is None or when.text is None else when.text.strip(),
            None if value is None else value.text,
        )
