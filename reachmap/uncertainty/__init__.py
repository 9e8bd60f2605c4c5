"""How sure the map is: what an ensemble of rivers the evidence allows says of it."""

from reachmap.uncertainty.confidence import spread_at, sure_water
from reachmap.uncertainty.estimate import VERSION, DoubtSettings, weigh_doubt
from reachmap.uncertainty.survey import asks_layer

__all__ = ["VERSION", "DoubtSettings", "asks_layer", "spread_at", "sure_water", "weigh_doubt"]
