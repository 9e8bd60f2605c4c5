"""Where fish hold and travel at each flow, by measurable rules."""

from reachmap.water.bends import Bend, bends_of
from reachmap.water.follow import follow_channels, follow_structure
from reachmap.water.lasting_seams import seams_that_last
from reachmap.water.lies import Lies, lie_odds
from reachmap.water.read_water import VERSION, Reading, read_water
from reachmap.water.runs import follow_runs
from reachmap.water.settings import WaterSettings
from reachmap.water.table import runs_by_flow, with_instead

__all__ = [
    "VERSION",
    "Bend",
    "Lies",
    "Reading",
    "WaterSettings",
    "bends_of",
    "follow_channels",
    "follow_runs",
    "follow_structure",
    "lie_odds",
    "read_water",
    "runs_by_flow",
    "seams_that_last",
    "with_instead",
]
