"""The ground stage on the sample river: from drawing and DEM to the raster."""

from pathlib import Path

from reachmap import ground
from reachmap.markup import read_markup

SAMPLE = Path(__file__).resolve().parent.parent / "data_samples" / "madeup_river"


class Ground:
    """The sample river, 2.5 km, at three sizes of cell."""

    params = [4.0, 2.0]
    param_names = ["cell_m"]
    timeout = 300

    def setup(self, cell):
        self.reach = read_markup(SAMPLE)
        self.settings = ground.GroundSettings(cell=cell)
        grid = ground.grid_of(self.reach, cell, self.settings.margin_m)
        self.dem = ground.read_dem(self.reach.dems, grid, self.reach.plan.dem)
        ground.build_ground(self.reach, self.dem, self.settings)  # compile outside the clock

    def time_build_ground(self, cell):
        ground.build_ground(self.reach, self.dem, self.settings)


class Reading:
    """Opening the sample's folder: every layer read and checked."""

    def time_read_markup(self):
        read_markup(SAMPLE)
