"""The places where one note would help most, as `reachmap check` lists them."""

from __future__ import annotations

from pathlib import Path

import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import transform_points
from reachmap.base.units import LENGTH, from_si
from reachmap.base.words import UnitSystem
from reachmap.markup.model import Markup
from reachmap.pipeline.looking import built_asks, looked_asks
from reachmap.pipeline.stamp import settled_folder
from reachmap.text.survey import ask_worth

WGS84 = "EPSG:4326"


def asked_lines(folder: Path, reach: Markup, ground: xr.Dataset | None = None) -> list[str]:
    """Return the list as lines: from the build if it is up to date, else by a quick look.

    Parameters
    ----------
    folder, reach
        The reach folder.
    ground
        From `looked_ground`, if it was made already.

    Raises
    ------
    BuildError
        If no ground can be made of the folder.
    """
    built = built_asks(folder, settled_folder(folder, None))
    asks = looked_asks(reach, ground) if built is None else built
    if asks.empty:
        return []
    by = "from your last build" if built is not None else "by the quick preview"
    lines = [
        f"One note at each of these would sharpen the map most ({by}). Measure the depth there and "
        "note the river's flow:"
    ]
    places: FloatArray = asks.geometry.get_coordinates().to_numpy()
    east, north = transform_points(places[:, 0], places[:, 1], reach.crs, WGS84)
    for row, x, y in zip(asks.itertuples(), east, north, strict=True):
        at = _length(float(row.station_m), reach.plan.units)
        side = "left" if row.offset_m >= 0 else "right"
        across = _length(abs(float(row.offset_m)), reach.plan.units)
        place = f"  {row.code:<3}  {y:.6f}, {x:.6f}  {at} down the line, {across} to river {side}"
        lines.append(f"{place}: {ask_worth(row._asdict(), reach.plan.units)}")
    return lines


def _length(metres: float, units: UnitSystem) -> str:
    """Return a length in the folder's units."""
    unit = LENGTH[units]
    return f"{from_si(metres, unit):.0f} {unit}"
