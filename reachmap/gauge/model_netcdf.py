"""Streamflow of a national model as netCDF: one reach of it, by its feature id.

The channel files of the US National Water Model hold the dimension feature_id, the variable
streamflow ("m3 s-1"), time and reference_time; a file of one time each, or of several. Facts of the
format: docs/sources.md, "Gauge files".
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import netCDF4
import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.parts import UNIT_SPELLINGS, Held, Parts, Series, Times

HEADS = (b"\x89HDF\r\n\x1a\n", b"CDF\x01", b"CDF\x02", b"CDF\x05")
"""How netCDF-4 (which is HDF5) and the classic formats begin (the format's specification)."""

ID, FLOW, TIME, RUN = "feature_id", "streamflow", "time", "reference_time"

FIX = "Fetch a channel file (channel_rt) of the model, or cut the reach out of it"

SAY_ID = "Say under [gauge] in reach.toml which is yours: feature_id = 23894572"


def is_netcdf(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of netCDF."""
    return head.startswith(HEADS)


def read_netcdf(path: Path, feature_id: int | None, parts: Parts) -> None:
    """Add the flow of one reach to `parts`.

    Parameters
    ----------
    path
        The file; checked to be a plain one.
    feature_id
        Which reach; None where the file may hold one alone.
    parts
        Takes the series, or the fault.
    """
    try:
        with netCDF4.Dataset(path, "r") as file:
            file.set_auto_mask(True)
            wrong = _read(path.name, file, feature_id, parts)
    except (OSError, RuntimeError, ValueError, OverflowError, KeyError, IndexError) as error:
        wrong = (f"it cannot be read ({quoted(str(error), 120)})", FIX)
    if wrong is not None:
        parts.fault(path.name, *wrong)


def _read(name: str, file: Any, feature_id: int | None, parts: Parts) -> tuple[str, str] | None:
    """Add the series of an open file; return what is wrong as (found, fix), None for nothing."""
    missing = [one for one in (ID, FLOW, TIME) if one not in file.variables]
    if missing:
        return f"it has no {' and no '.join(missing)}", FIX
    flow = file.variables[FLOW]
    unit = UNIT_SPELLINGS.get(str(getattr(flow, "units", "")).lower(), "")
    if unit not in {"m3/s", "cfs"}:
        return (
            f"the unit of its streamflow, {quoted(str(getattr(flow, 'units', '')))}, is not known",
            FIX,
        )
    ids = np.ma.filled(file.variables[ID][:].astype(np.int64), -1).ravel()
    if feature_id is None and ids.size != 1:
        return f"it holds {ids.size:,} reaches and nothing says which is yours", SAY_ID
    at = 0 if feature_id is None else int(np.argmax(ids == feature_id))
    if feature_id is not None and (not ids.size or ids[at] != feature_id):
        return f"the reach {feature_id} is not in it", SAY_ID
    if ID not in flow.dimensions:
        return "its streamflow is not given by feature_id", FIX
    times = _times(file.variables[TIME])
    values = _values(flow, at)
    if values.size != times.size:
        return f"it has {values.size} flows for {times.size} times", FIX
    if _ahead(file, times) and not parts.forecast:
        parts.notes.append(
            f"gauge file {name}: a forecast is no record. Give the file with --forecast to use it."
        )
        return None
    parts.series.append(Series(name, Held.FLOW, times, to_si(values, unit)))
    return None


def _values(flow: Any, at: int) -> FloatArray:
    """Return the flows of one reach in the order of time, NaN for missing values."""
    where = tuple(at if name == ID else slice(None) for name in flow.dimensions)
    masked = np.ma.asarray(flow[where]).astype(np.float64)
    values = np.atleast_1d(np.ma.filled(masked, np.nan)).ravel()
    return np.where(values >= 0, values, np.nan)


def _times(variable: Any) -> Times:
    """Return a file's times as UTC."""
    calendar = str(getattr(variable, "calendar", "standard"))
    read = netCDF4.num2date(
        np.ma.filled(np.ma.atleast_1d(variable[:]), 0),
        variable.units.replace(" UTC", ""),
        calendar,
        only_use_cftime_datetimes=False,
        only_use_python_datetimes=True,
    )
    every = np.asarray(read, dtype=object).ravel()
    return np.array([np.datetime64(one, "s") for one in every], dtype="datetime64[s]")


def _ahead(file: Any, times: Times) -> bool:
    """Return whether every time lies after the model's run began: a forecast."""
    if RUN not in file.variables or not times.size:
        return False
    began = _times(file.variables[RUN])
    return bool(began.size) and bool((times > began.max()).all())
