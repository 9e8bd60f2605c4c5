"""Geographic position of a reach."""

from __future__ import annotations

import geopandas as gpd

from reachmap.base.crs import outside
from reachmap.markup.model import Markup


def place_of(reach: Markup) -> tuple[float, float]:
    """Return longitude and latitude of the middle of a reach's main line [degrees, WGS84]."""
    place = gpd.GeoDataFrame(geometry=[reach.main.line.interpolate(0.5, normalized=True)])
    there = outside(place.set_crs(reach.crs)).geometry.iloc[0]
    return float(there.x), float(there.y)
