"""Ensemble of rivers that the evidence allows: spread and odds."""

from reachmap.uncertainty.confidence import spread_at, sure_water
from reachmap.uncertainty.estimate import VERSION, weigh_doubt
from reachmap.uncertainty.settings import DoubtSettings
from reachmap.uncertainty.survey import asks_layer

__all__ = ["VERSION", "DoubtSettings", "asks_layer", "spread_at", "sure_water", "weigh_doubt"]
