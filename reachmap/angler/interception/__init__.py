"""The one score: where this person's fly meets a fish, as relative odds on this river."""

from reachmap.angler.interception.density import Presence, fish_time
from reachmap.angler.interception.quality import swim_quality
from reachmap.angler.interception.runs import RunOdds, odds_of_runs
from reachmap.angler.interception.settings import InterceptionSettings, Member
from reachmap.angler.interception.swept import Swept, Tracks, swept_cells

__all__ = [
    "InterceptionSettings",
    "Member",
    "Presence",
    "RunOdds",
    "Swept",
    "Tracks",
    "fish_time",
    "odds_of_runs",
    "swept_cells",
    "swim_quality",
]
