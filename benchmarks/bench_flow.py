"""The flow stage: the preview by length of river, its sections, the edges drawn, the engine."""

from reachmap.flow import FlowSettings, solve
from reachmap.flow.sections import sections_of
from reachmap.flow.wet_edge import edge_lines, wet_polygons
from tests.made import made_ground

FLOWS = (5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0)
SETTINGS = FlowSettings(method="profile")


def reach(length):
    return made_ground(
        length=length, wavelength=500, turn_deg=50, half_width=30, deep=2.0, riffle=0.4, margin=60
    )


class Preview:
    """Eight flows of a 60 m wide river in 2 m cells: time should grow with length, no faster."""

    params = [500, 1000, 2000]
    param_names = ["length_m"]
    timeout = 300

    def setup(self, length):
        self.ground = reach(length)
        solve(self.ground, FLOWS[:1], SETTINGS)  # compile outside the clock

    def time_eight_flows(self, length):
        solve(self.ground, FLOWS, SETTINGS)

    def time_sections(self, length):
        sections_of(self.ground, SETTINGS)


class Edges:
    """The water's outline and edge lines of one flow."""

    def setup(self):
        self.ground = reach(1000)
        self.one = solve(self.ground, [30.0], SETTINGS).isel(flow=0)

    def time_wet_polygons(self):
        wet_polygons(self.one, self.ground)

    def time_edge_lines(self):
        edge_lines(self.one, self.ground)


class Engine:
    """The two-dimensional engine against the preview, one flow of a small reach."""

    params = ["profile", "engine"]
    param_names = ["method"]
    timeout = 600

    def setup(self, method):
        self.ground = reach(500)
        self.settings = FlowSettings(method=method)
        solve(self.ground, [30.0], self.settings)

    def time_one_flow(self, method):
        solve(self.ground, [30.0], self.settings)
