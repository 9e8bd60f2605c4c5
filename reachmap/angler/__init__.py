"""Can this person stand there, cast there, swing it, and get home."""

from reachmap.angler.assess import VERSION, assess
from reachmap.angler.cards import run_cards
from reachmap.angler.pace import day_minutes, pace_runs
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.way_back import ways_back, when_cut_off
from reachmap.angler.wind import Wind, WindWord, wind_from_forecast

__all__ = [
    "VERSION",
    "AnglerSettings",
    "Wind",
    "WindWord",
    "assess",
    "day_minutes",
    "pace_runs",
    "run_cards",
    "ways_back",
    "when_cut_off",
    "wind_from_forecast",
]
