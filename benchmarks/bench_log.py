"""The log of ten years: 5,000 entries with 10,000 notes from the water, opened and asked."""

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import geopandas as gpd
import numpy as np
from shapely import Point

from reachmap.base.crs import metric_crs
from reachmap.logbook.join import RunPlace, join_trips
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.store import FILE, TripLog, kept_in
from reachmap.outputs.log_layer import log_columns, log_layer

BEGIN = datetime(2015, 1, 1, 8, tzinfo=UTC)
RUNS = [f"Bend {n} {side}" for n in range(1, 11) for side in ("left", "right")]
FLOWS = {f"{flow}m3s": float(flow) for flow in (20, 30, 40, 55, 70, 90, 120, 150)}
CRS = metric_crs(-141.3, 46.2)


def ten_years(number=5000):
    """Return entries as an angler might have kept them."""
    chance = np.random.default_rng(8)
    flows, touches = 20 * np.exp(1.8 * chance.random(number)), chance.poisson(0.4, number)
    shifts = chance.normal(0, 0.01, (number, 2))
    return [
        Entry(
            when=BEGIN + timedelta(hours=17.5 * n),
            run=RUNS[n % len(RUNS)],
            flow=float(flows[n]),
            flow_from="gauge",
            minutes=45.0,
            touches=int(touches[n]),
            x=-141.3 + shifts[n, 0],
            y=46.2 + shifts[n, 1],
            note="soft edge, tip ticked bottom " * 3,
            seen=(
                Seen(SeenKind.EDGE, -141.3 + shifts[n, 0], 46.2),
                Seen(SeenKind.SOUNDING, -141.3, 46.2 + shifts[n, 1], 0.9),
            ),
        )
        for n in range(number)
    ]


class TenYears:
    """5,000 entries."""

    timeout = 120

    def setup(self):
        self.home = tempfile.TemporaryDirectory()
        self.folder = Path(self.home.name)
        with TripLog(self.folder / FILE) as log:
            log.add(*ten_years())
        self.entries = kept_in(self.folder)
        middle = gpd.GeoSeries([Point(-141.3, 46.2)], crs="EPSG:4326").to_crs(CRS)[0]
        shapes = [middle.buffer(50) for _ in RUNS]
        self.runs = gpd.GeoDataFrame({"run": RUNS}, geometry=shapes, crs=CRS)
        self.rows = [{"run": run, "flow": flow} for run in RUNS for flow in FLOWS.values()]

    def joined(self):
        places = zip(self.runs["run"], self.runs.geometry, strict=True)
        return join_trips(self.entries, [RunPlace(run, outline=o) for run, o in places], CRS)

    def teardown(self):
        self.home.cleanup()

    def time_open_and_read_all(self):
        kept_in(self.folder)

    def time_open_and_show_the_newest(self):
        with TripLog(self.folder / FILE) as log:
            log.latest(20)
            log.runs()

    def time_add_one(self):
        with TripLog(self.folder / FILE) as log:
            log.add(Entry(when=BEGIN))

    def time_lay_on_the_map(self):
        log_layer(self.entries, self.runs, FLOWS, CRS, self.joined())

    def time_table_of_runs(self):
        log_columns(self.joined(), self.rows)
