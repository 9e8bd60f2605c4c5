"""Files for a GPS or a phone: the same places and lines as GPX 1.1 and as KML."""

from reachmap.outputs.handheld.gpx import write_gpx
from reachmap.outputs.handheld.kml import write_kml
from reachmap.outputs.handheld.names import water_name

__all__ = ["water_name", "write_gpx", "write_kml"]
