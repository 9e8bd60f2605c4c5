"""Files for desktop GIS: layers, rasters and a project that opens them as the map does."""

from reachmap.outputs.gis.write import write_gis

__all__ = ["write_gis"]
