"""Where one person can wade, stand, cast and swing with their kit."""

from reachmap.angler.assess import VERSION, Assessed, assess, assess_flow
from reachmap.angler.card_facts import RunCard
from reachmap.angler.card_layers import CardLayers
from reachmap.angler.cards import run_card
from reachmap.angler.day import (
    CutOff,
    run_cut_off,
    run_minutes,
)
from reachmap.angler.gradings import Gradings
from reachmap.angler.interception.join import Meeting, with_odds
from reachmap.angler.interception.windows import with_windows
from reachmap.angler.pace import pace_runs
from reachmap.angler.run_hazards import runs_with_hazards
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.short_list import Choice, ListSettings, list_choices
from reachmap.angler.standing import fishable_runs, with_wading
from reachmap.angler.view import marked_ends
from reachmap.angler.way_back import ways_back, when_cut_off, with_closings
from reachmap.angler.wind import Wind, WindWord, read_wind, wind_from_forecast

__all__ = [
    "VERSION",
    "AnglerSettings",
    "Assessed",
    "CardLayers",
    "Choice",
    "CutOff",
    "Gradings",
    "ListSettings",
    "Meeting",
    "RunCard",
    "Wind",
    "WindWord",
    "assess",
    "assess_flow",
    "fishable_runs",
    "list_choices",
    "marked_ends",
    "pace_runs",
    "read_wind",
    "run_card",
    "run_cut_off",
    "run_minutes",
    "runs_with_hazards",
    "ways_back",
    "when_cut_off",
    "wind_from_forecast",
    "with_closings",
    "with_odds",
    "with_wading",
    "with_windows",
]
