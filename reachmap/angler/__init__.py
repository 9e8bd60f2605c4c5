"""Whether this person can stand, cast and swing there."""

from reachmap.angler.assess import VERSION, assess
from reachmap.angler.cards import RunCard, run_card
from reachmap.angler.day import (
    CutOff,
    DayTotal,
    WindOnRun,
    day_total,
    run_cut_off,
    wind_by_station,
    wind_on_run,
)
from reachmap.angler.pace import day_minutes, pace_runs
from reachmap.angler.run_hazards import runs_with_hazards
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.standing import fishable_runs, with_wading
from reachmap.angler.way_back import ways_back, when_cut_off
from reachmap.angler.wind import Wind, WindWord, read_wind, wind_from_forecast, wind_word

__all__ = [
    "VERSION",
    "AnglerSettings",
    "CutOff",
    "DayTotal",
    "RunCard",
    "Wind",
    "WindOnRun",
    "WindWord",
    "assess",
    "day_minutes",
    "day_total",
    "fishable_runs",
    "pace_runs",
    "read_wind",
    "run_card",
    "run_cut_off",
    "runs_with_hazards",
    "ways_back",
    "when_cut_off",
    "wind_by_station",
    "wind_from_forecast",
    "wind_on_run",
    "wind_word",
    "with_wading",
]
