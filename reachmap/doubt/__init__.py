"""How sure the map is: what an ensemble of rivers the evidence allows says of it."""

from reachmap.doubt.asks import asks_layer
from reachmap.doubt.door import VERSION, DoubtSettings, weigh_doubt
from reachmap.doubt.sureness import spread_at, sure_water

__all__ = ["VERSION", "DoubtSettings", "asks_layer", "spread_at", "sure_water", "weigh_doubt"]
