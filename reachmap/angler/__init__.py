"""Whether this person can stand, cast and swing there."""

from reachmap.angler.assess import VERSION, Assessed, assess, assess_places
from reachmap.angler.card_layers import CardLayers
from reachmap.angler.cards import RunCard, run_card
from reachmap.angler.day import (
    CutOff,
    run_cut_off,
    run_minutes,
)
from reachmap.angler.gradings import Gradings
from reachmap.angler.pace import pace_runs
from reachmap.angler.run_hazards import runs_with_hazards
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.standing import fishable_runs, with_wading
from reachmap.angler.view import marked_ends
from reachmap.angler.way_back import ways_back, when_cut_off, with_closings
from reachmap.angler.wind import Wind, WindWord, read_wind, wind_from_forecast

__all__ = [
    "VERSION",
    "AnglerSettings",
    "Assessed",
    "CardLayers",
    "CutOff",
    "Gradings",
    "RunCard",
    "Wind",
    "WindWord",
    "assess",
    "assess_places",
    "fishable_runs",
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
    "with_wading",
]
