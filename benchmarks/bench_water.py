"""The water stage: one flow by length of river, and runs followed over eight flows."""

import geopandas as gpd
import pandas as pd

from reachmap.water import WaterSettings, follow_runs, lie_odds, read_water, runs_by_flow
from reachmap.water.field import field_of
from tests.made import made_flows, made_ground

RULES = WaterSettings()
FILLS = {
    20.0: -1.2,
    30.0: -1.0,
    40.0: -0.8,
    55.0: -0.6,
    70.0: -0.4,
    90.0: -0.2,
    120.0: 0.1,
    150.0: 0.4,
}


def reach(length):
    ground = made_ground(
        length=length, wavelength=500, turn_deg=50, half_width=30, deep=2.0, riffle=0.4, margin=60
    )
    return ground, made_flows(ground, FILLS)


class OneFlow:
    """A 60 m wide river in 2 m cells: time should grow with length, no faster."""

    params = [500, 1000, 2000, 4000]
    param_names = ["length_m"]
    timeout = 300

    def setup(self, length):
        self.ground, flows = reach(length)
        self.flow = flows.isel(flow=[5])
        read_water(self.ground, self.flow, RULES)  # compile outside the clock
        self.field = field_of(self.ground, self.flow, island_low_m2=60.0, pool_low_m2=400.0)

    def time_read_water(self, length):
        read_water(self.ground, self.flow, RULES)

    def time_lie_odds(self, length):
        lie_odds(self.field, self.ground, RULES.lies)


class EightFlows:
    """2.5 km and eight flows, the size of the sample."""

    timeout = 300

    def setup(self):
        self.ground, self.flows = reach(2500)
        layers = [
            read_water(self.ground, self.flows.isel(flow=[k]), RULES).layers["water"]
            for k in range(len(FILLS))
        ]
        self.water = gpd.GeoDataFrame(pd.concat(layers, ignore_index=True), crs=layers[0].crs)

    def time_read_water(self):
        for k in range(len(FILLS)):
            read_water(self.ground, self.flows.isel(flow=[k]), RULES)

    def time_runs(self):
        water, runs = follow_runs(self.water, self.ground, (), RULES)
        runs_by_flow(water, runs, self.flows, RULES)
