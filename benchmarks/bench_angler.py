"""Speed of the angler's floor: rays behind, swings, and a whole flow of a made river."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from benchmarks.winding_river import winding_river
from reachmap.angler import AnglerSettings, assess
from reachmap.angler.clearance import find_room
from reachmap.angler.settings import LineSettings, RoomSettings, SwingSettings
from reachmap.angler.swing import swing_many
from reachmap.water import WaterSettings, read_water
from tests.angler.hand import KIT, band, flat_view, hand_markup, hand_water
from tests.angler.test_swing import even, throw
from tests.made import made_flows, made_ground


class RoomBehind:
    """Rays: 10,000 stations x 9 casts x 15 rays are meant to take under 2 s."""

    params = [1000, 10000]
    param_names = ["stations"]

    def setup(self, stations):
        rng = np.random.default_rng(1)
        view = flat_view(size=600, cell=2.0)
        bushes = np.where(rng.random(view.surface.shape) < 0.03, 3.0, 0.0)
        self.view = replace(view, surface=view.surface + bushes)
        cells = rng.integers(50, 550, (2, stations))
        self.points = view.grid.points(*cells)
        self.level = np.full(stations, 100.0)
        self.wade = np.zeros(stations)
        self.target = rng.uniform(-np.pi, np.pi, stations)
        self.kit = replace(KIT, rods=KIT.rods[:1])
        self.time_find_room(stations, first=1)  # compile outside the clock

    def time_find_room(self, stations, first=None):
        use = slice(first)
        find_room(
            self.view,
            self.points[use],
            self.level[use],
            self.wade[use],
            self.target[use],
            self.kit,
            RoomSettings(),
        )


class Swings:
    """Swings: each is meant to take under 10 ms of one core."""

    params = [10, 100]
    param_names = ["casts"]

    def setup(self, casts):
        self.casts = [throw(cast=one) for one in np.linspace(15, 26, casts)]
        swing_many(self.casts[:1], even(), LineSettings(), SwingSettings())

    def time_swing_many(self, casts):
        swing_many(self.casts, even(0.7), LineSettings(), SwingSettings())


class ReadOneFlow:
    """Water and angler at one flow of a winding river: time should grow with length, no faster.

    The raster's box grows with the square of it: see `winding_river`.
    """

    params = [1500, 3000, 6000]
    param_names = ["length_m"]
    timeout = 300

    def setup(self, length):
        self.ground, self.flow, self.markup = winding_river(float(length))
        self.time_read_water(length)  # compile outside the clock
        self.time_assess(length)

    def time_read_water(self, length):
        self.water = read_water(self.ground, self.flow, WaterSettings()).layers["water"]

    def time_assess(self, length):
        assess(self.ground, self.flow, self.water, self.markup, AnglerSettings())


class Assess:
    """One flow of a made river of 600 m, by closed forms and with the line."""

    params = [False, True]
    param_names = ["full"]

    def setup(self, full):
        self.ground = made_ground(length=600, slope=0.0006)
        self.flow = made_flows(self.ground, {20.0: -0.3})
        self.water = hand_water(
            [band(self.ground, 100, 400, -16, -6)],
            flow=20.0,
            label="20m3s",
            crs=self.ground.attrs["crs"],
            stations=[(100, 400)],
        )
        self.markup = hand_markup(self.ground)
        self.settings = AnglerSettings(line=LineSettings(full=full))
        self.time_assess(full)

    def time_assess(self, full):
        assess(self.ground, self.flow, self.water, self.markup, self.settings)
