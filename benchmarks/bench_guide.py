"""A guide's day: three rods, eight runs, on foot and with a boat, plan B for each run."""

from __future__ import annotations

import numpy as np

from reachmap.planner.guide.facts import DrawnAccess
from reachmap.planner.guide.plan import make_guide_plan
from tests.planner.guide.made import SMALL, TALL, made_inputs, made_party, made_water

GATES = (
    DrawnAccess("landing", "", 0.0, -124.4, 47.95),
    DrawnAccess("parking", "", 10.0, -124.4, 47.95),
    DrawnAccess("landing", "", 2600.0, -124.4, 47.93),
)


class ThreeRods:
    params = [[False, True], ["alike", "one small"], [4, 5]]
    param_names = ["boat", "rods", "turns"]

    def setup(self, boat, rods, turns):
        draw = np.random.default_rng(2)
        runs = tuple(
            made_water(
                f"Run {n}", 300.0 * n, float(draw.uniform(10, 90)),
                length=float(draw.choice([50, 100, 180])), minutes=float(draw.uniform(35, 90)),
            )
            for n in range(8)
        )  # fmt: skip
        people = (TALL, TALL, TALL if rods == "alike" else SMALL)
        party = made_party(*people, boat=boat, hours=1.3 * turns)
        self.inputs = made_inputs(runs, party, gates=GATES)

    def time_plan(self, boat, rods, turns):
        make_guide_plan(self.inputs)
