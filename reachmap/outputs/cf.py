"""Datasets by the CF conventions, version 1.11: names, units, axes, flags and grid mapping."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from reachmap.base.crs import grid_mapping
from reachmap.base.fields import FIELDS
from reachmap.base.version import VERSION
from reachmap.base.words import COVER_CODES, Wet

CONVENTIONS = "CF-1.11"

GRID_MAPPING = "spatial_ref"
"""Name of the grid mapping variable; rioxarray looks for it under this name too."""

DISCHARGE = "water_volume_transport_in_river_channel"

STANDARD_NAMES = {
    "level": "water_surface_height_above_reference_datum",
    "inflow": DISCHARGE,
    "outflow": DISCHARGE,
    "flow": DISCHARGE,
    "x": "projection_x_coordinate",
    "y": "projection_y_coordinate",
}
"""CF standard names, where the table has one for the field. It has none for the speed or
depth of water in a river: its names speak of sea water or of flood water on land that is usually
dry, so these fields carry a long name alone."""

UNITS = {"m/s": "m s-1", "m3/s": "m3 s-1", "s/m^(1/3)": ""}
"""Units in UDUNITS spelling; empty where impossible: it has whole powers only."""

FLAGS: dict[str, tuple[tuple[int, ...], tuple[str, ...]]] = {
    "wet": (tuple(code.value for code in Wet), tuple(code.name.lower() for code in Wet)),
    "cover": ((0, *COVER_CODES.values()), ("unknown", *(cover.value for cover in COVER_CODES))),
}
"""Flag values and their meanings."""

PLACES = ("station", "offset")
"""Fields of the ground with the station and offset of each cell."""


def cf_dataset(dataset: xr.Dataset, ground: xr.Dataset, name: str) -> xr.Dataset:
    """Return a stage's Dataset with the attributes of the CF conventions.

    Parameters
    ----------
    dataset
        A stage's result on the raster of `ground`, attrs `crs` and `notes`.
    ground
        The ground stage's Dataset: its station and offset become coordinates of each cell.
    name
        Name of the reach, for the title.

    Returns
    -------
    xarray.Dataset
        The same numbers; every field on the raster names the grid mapping.
    """
    places = {one: ground[one] for one in PLACES}
    made = dataset.assign_coords(places)
    for one in (*made.data_vars, *made.coords):
        made[one].encoding = {}
        made[one].attrs = _attributes(str(one), made[one])
    made = made.assign_coords({GRID_MAPPING: xr.Variable((), np.int32(0))})
    made[GRID_MAPPING].attrs = grid_mapping(str(dataset.attrs["crs"]))
    made.attrs = {
        **dataset.attrs,
        "Conventions": CONVENTIONS,
        "title": name,
        "source": f"reachmap {VERSION}",
    }
    return made


def _attributes(name: str, array: xr.DataArray) -> dict[str, Any]:
    """Return the attributes of one variable."""
    found: dict[str, Any] = {} if name in _FIELDS or name in _COORDINATES else dict(array.attrs)
    field = _FIELDS.get(name)
    if field is not None:
        found["long_name"] = field.meaning
        unit = UNITS.get(field.unit, field.unit)
        found |= {"units": unit} if unit else {"comment": f"in {field.unit}"}
    if name in STANDARD_NAMES:
        found["standard_name"] = STANDARD_NAMES[name]
    if name in FLAGS:
        codes, words = FLAGS[name]
        found.pop("units", None)
        found["flag_values"] = np.array(codes, dtype=array.dtype)
        found["flag_meanings"] = " ".join(words)
    found |= _COORDINATES.get(name, {})
    if {"x", "y"} <= set(array.dims):
        found["grid_mapping"] = GRID_MAPPING
    return found


_FIELDS = {field.name: field for field in FIELDS}
_COORDINATES: dict[str, dict[str, str]] = {
    "x": {"axis": "X", "units": "m", "long_name": "East in the project's CRS"},
    "y": {"axis": "Y", "units": "m", "long_name": "North in the project's CRS"},
    "flow": {"units": "m3 s-1", "long_name": "Discharge at the head of the reach"},
    "note_kind": {"long_name": "What a note on a flow is about"},
    "note_flow": {"units": "m3 s-1", "long_name": "Discharge a note is about; NaN for all"},
    "note_station": {"units": "m", "long_name": "Where, downstream along the main line; NaN none"},
    "note_name": {"long_name": "Name in a note"},
    "note_values": {"long_name": "Values of a note, in the order of flow.notes.VALUES"},
    "asked": {"long_name": "Short name of the flow, as in file names"},
}
