"""Columns of other programs' files, and the fields of the drawing that they stand for."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from reachmap.markup.described import is_nothing

COLUMNS = {
    "side": ("bank", "lr", "l_r", "river_side", "bank_side", "riverside"),
    "cover": ("veg", "vegetation", "land_cover", "landcover", "cover_type", "covertype"),
    "part": ("channel",),
    "depth": ("dep", "water_depth", "water_dept"),
    "flow": ("q", "discharge", "cfs", "cms", "flow_rate"),
    "bed": ("bed_elev", "bed_level", "bed_height", "bed_z"),
    "speed": ("velocity", "vel"),
    "level": ("wse", "water_level", "water_leve", "ws_elev", "water_elev"),
    "rise": ("bank_height", "bank_heigh", "bank_ht", "bankheight"),
    "cover_height": ("cover_heig", "cover_ht", "veg_height", "veg_ht", "canopy_hei"),
    "height": ("hgt", "ht", "tree_height", "tree_ht"),
    "size": ("width", "diameter", "crown"),
}  # fmt: skip
"""Names of columns that stand for a field; shapefiles cut names to ten letters."""

IDLE = frozenset(
    (
        *("tessellate", "extrude", "visibility", "draworder", "icon", "styleurl", "altitudemode"),
        *("begin", "end", "timestamp", "time", "ele", "link", "link1_href", "src", "number", "id"),
        *("fid", "objectid", "layer", "sat", "fix", "hdop", "vdop", "pdop", "snippet"),
    )
)
"""Columns that programs fill by themselves."""

IDLE_TABLES = frozenset(
    ("waypoints", "tracks", "routes", "dropped", "document", "doc", "untitled", "features")
)
"""Names of tables that say nothing."""

_SUFFIX = re.compile(
    r"(.+?)_*\(?(ft|feet|foot|m|metres?|meters?|cm|cfs|cms|m3_?s|fps|mps|ft_s|m_s)\)?"
)
_SPELT = {"mps": "m/s", "ft_s": "ft/s", "m_s": "m/s", "m3_s": "m3/s", "foot": "ft"}


def columns_of(row: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Return field -> (value as text, column), units of the column's name put behind numbers."""
    found: dict[str, tuple[str, str]] = {}
    for column, value in row.items():
        if is_nothing(value) or not isinstance(value, str | int | float):
            continue
        suffix = _SUFFIX.fullmatch(column)
        name, unit = field_of(column), column if column in ("cfs", "cms") else ""
        if not name and suffix:
            name, unit = field_of(suffix[1]), _SPELT.get(suffix[2], suffix[2])
        text = f"{value:.12g}" if isinstance(value, float) else str(value).strip()
        if name and name not in found:
            plain = unit and re.fullmatch(r"[-+\d.,]+", text)
            found[name] = (f"{text} {unit}" if plain else text, column)
    return found


def field_of(column: str) -> str:
    """Return the field that a column's name stands for; "" for none."""
    known = (name for name, others in COLUMNS.items() if column == name or column in others)
    return next(known, "")
