"""The gauge: fifteen years of quarter hours read and asked, and a rating fitted."""

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from reachmap.gauge.rating_fit import choose_rating
from reachmap.markup.gauge_of_folder import GaugeBook, folder_gauge

RDB = "agency_cd\tsite_no\tdatetime\ttz_cd\t1_00060\t1_00060_cd\n5s\t15s\t20d\t6s\t14n\t10s\n"


class FifteenYears:
    """525,889 readings in the two forms people have them in."""

    params = ["rdb", "csv"]
    param_names = ["form"]
    timeout = 120

    def setup(self, form):
        self.home = tempfile.TemporaryDirectory()
        self.folder = Path(self.home.name)
        (self.folder / "gauge").mkdir()
        (self.folder / "reach.toml").write_text('format = 1\nname = "made"\nunits = "us"\n')
        times = pd.date_range("2005-01-01", "2020-01-01", freq="15min").strftime("%Y-%m-%d %H:%M")
        if form == "rdb":
            rows = [f"USGS\t00000000\t{time}\tPST\t{i % 977}\tA" for i, time in enumerate(times)]
            text = RDB + "\n".join(rows)
        else:
            text = "\n".join(["time,flow_cfs", *(f"{t}Z,{i % 977}" for i, t in enumerate(times))])
        (self.folder / "gauge" / f"long.{form}").write_text(text)

    def teardown(self, form):
        self.home.cleanup()

    def time_read(self, form):
        folder_gauge(self.folder)

    def time_first_hour_asked(self, form):
        GaugeBook(self.folder).flow_at(datetime(2012, 6, 1, 8, 20, tzinfo=UTC))


class OwnRating:
    """Forty measurements over a riffle that drowns in its channel."""

    def setup(self):
        self.stage = np.linspace(0.5, 3.0, 40)
        noise = np.exp(0.02 * np.random.default_rng(4).standard_normal(40))
        self.flow = 20 * (self.stage - 0.3) ** 2.1 * noise

    def time_fit(self):
        choose_rating(self.stage, self.flow)
