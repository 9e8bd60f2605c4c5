"""Speed of flows between solved ones: making ready, reading one, leaving each out."""

from __future__ import annotations

import numpy as np

from reachmap.flow.between import SolvedFlows
from reachmap.flow.nodes import left_out
from tests.made import made_flows, made_ground

FLOWS = 20.0 * 1.5 ** np.arange(6)


class FlowsBetween:
    """A river of 2 km on 2 m: a flow between is meant to take a tenth of a second."""

    params = [500.0, 2000.0]
    param_names = ["length"]

    def setup(self, length):
        self.ground = made_ground(length=length, half_width=20.0)
        fills = {float(q): float(-0.9 + 0.4 * k) for k, q in enumerate(FLOWS)}
        self.fields = made_flows(self.ground, fills).assign_attrs(method="made")
        self.solved = SolvedFlows.of(self.ground, self.fields)

    def time_make_ready(self, length):
        SolvedFlows.of(self.ground, self.fields)

    def time_one_flow(self, length):
        self.solved.at(37.0)

    def time_leave_each_out(self, length):
        left_out(self.solved)
