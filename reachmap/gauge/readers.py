"""Register of readers: each format of gauge file recognised by its content, one module each.

To add a format, write `is_<format>(text) -> bool` and `read_<format>(name, text, zone, parts)` in a
file of its own and name both here; the first that fits a text reads it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from reachmap.base.words import UnitSystem
from reachmap.gauge.ogc_json import read_json
from reachmap.gauge.parts import Parts
from reachmap.gauge.plain_csv import read_csv
from reachmap.gauge.rdb import is_rdb, read_rdb
from reachmap.gauge.readings_json import is_readings, read_readings
from reachmap.gauge.stageflow_json import is_stageflow, read_stageflow
from reachmap.gauge.station_json import is_station_json, read_station_json
from reachmap.gauge.waterml import is_waterml, read_waterml
from reachmap.gauge.waterml_json import is_waterml_json, read_waterml_json

READ_ENDINGS = frozenset(
    {".rdb", ".txt", ".csv", ".tsv", ".json", ".geojson", ".xml", ".wml", ".nc"}
)
"""File name extensions of gauge files that are read."""


@dataclass(frozen=True, slots=True)
class Reader:
    """Reader of a text format.

    Parameters
    ----------
    name
        Name of the format.
    fits
        Whether a text is in this format.
    read
        Adds a text's contents to the parts; arguments are its name, the text, the time zone of
            times without one, and the parts.
    """

    name: str
    fits: Callable[[str], bool]
    read: Callable[[str, str, str, Parts], None]


READERS: tuple[Reader, ...] = (
    Reader("RDB", is_rdb, read_rdb),
    Reader("stage and flow of a forecast point, JSON", is_stageflow, read_stageflow),
    Reader("WaterML 1.1 as JSON", is_waterml_json, read_waterml_json),
    Reader("hydrometric stations, OGC API JSON", is_station_json, read_station_json),
    Reader("readings of a measure, JSON and CSV", is_readings, read_readings),
    Reader("OGC API JSON", lambda text: text.lstrip()[:1] in {"{", "["}, read_json),
    Reader("WaterML 2", is_waterml, read_waterml),
)
"""Every format but plain CSV, the fallback; the most reliably recognised come first."""


def read_text_file(name: str, text: str, units: UnitSystem, zone: str, parts: Parts) -> None:
    """Add the contents of one text file to `parts`.

    Parameters
    ----------
    name
        The file's name, for messages.
    text
        Its content.
    units
        Of plain columns of CSV.
    zone
        Of times without an offset; "" for UTC.
    parts
        Receives the contents.
    """
    if not text.strip():
        parts.fault(name, "it is empty", "Fetch it again, or take it out")
        return
    reader = next((one for one in READERS if one.fits(text)), None)
    if reader is not None:
        reader.read(name, text, zone, parts)
    elif text.lstrip()[:1] == "<":
        fix = "Fetch the record as RDB, JSON, WaterML 2 or CSV"
        parts.fault(name, "it is a page or XML of another kind, not a record", fix)
    else:
        read_csv(name, text, units, zone, parts)
