"""Can this person stand there, cast there, swing it, and get home."""

from reachmap.angler.assess import VERSION, assess
from reachmap.angler.pace import day_minutes, pace_runs
from reachmap.angler.settings import AnglerSettings

__all__ = ["VERSION", "AnglerSettings", "assess", "day_minutes", "pace_runs"]
