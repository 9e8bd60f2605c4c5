"""A made log for the made product: a trip, trips without a place, and three things noted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Point

from reachmap.base.schema import layer_frame
from reachmap.outputs.product import Product
from tests.made import CRS
from tests.outputs.made_layers import Along

SECRET = "under the third alder"


def with_log(product: Product, *, text: str | None = None) -> Product:
    """Return the product with a log; `text` takes the place of all that was typed."""
    along = Along(product.ground)
    note = text or SECRET
    rows = [
        {
            "code": f"L{number}",
            "kind": kind,
            "date": f"2031-01-{20 - number:02d}",
            "run": str(product.layers["runs"]["run"].iloc[0]) if kind in ("trip", "run") else "",
            "trips": {"trip": 1, "run": 3}.get(kind, 0),
            "flow": np.nan if kind == "run" else 68.0,
            "near_label": "" if kind == "run" else product.labels[1],
            "touches": 2 if kind in ("trip", "run") else 0,
            "landed": 1 if kind == "trip" else 0,
            "minutes": 90.0 if kind == "trip" else np.nan,
            "depth_m": 1.2 if kind == "sounding" else np.nan,
            "speed_m_s": 0.8 if kind == "speed" else np.nan,
            "note": note,
            "geometry": Point(along.at([100.0 * number], 3.0)[0]),
        }
        for number, kind in enumerate(("trip", "run", "edge", "sounding", "speed"), start=1)
    ]
    first = str(product.layers["runs"]["run"].iloc[0])
    table = [
        {
            **row,
            "times_fished": 3 * (row["run"] == first and row["flow_label"] == product.labels[1]),
            "log_words": text or "fished 3 times, 4.5 h, 2 touches"
            if row["run"] == first
            else "not fished yet at about this flow",
        }
        for row in product.report["runs_by_flow"]
    ]
    report = {**product.report, "runs_by_flow": table}
    return replace(product, log=layer_frame("log", rows, CRS), report=report)
