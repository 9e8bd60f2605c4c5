"""A made ensemble, places to sound, side channels and bars for the made product."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.fields import check_fields
from reachmap.base.schema import layer_frame
from reachmap.base.words import Wet
from reachmap.outputs.product import Product
from tests.made import CRS
from tests.outputs.made_layers import Along

DIMS = ("flow", "y", "x")
WORDS = ("Twelve beds that your notes allow were run.", "The least sure flow is the highest.")


def with_doubt(product: Product, *, text: str | None = None) -> Product:
    """Return the product with an ensemble in which doubt grows with depth, and what goes with it.

    Cells deeper than 1.5 m are a guess, deeper than 1 m fair; `text` takes the place of notes.
    """
    flows = product.flows
    depth, wet = flows["depth"].to_numpy(), flows["wet"].to_numpy()
    agreement = np.where(depth > 1.5, 0.2, np.where(depth > 1.0, 0.5, 0.9))
    agreement = np.where(np.isnan(depth), np.nan, agreement)
    chance = np.where(wet == Wet.YES, np.where(depth < 0.3, 0.6, 1.0), 0.0)
    fields = {
        "depth_spread": 0.15 * depth,
        "speed_spread": 0.1 + 0 * depth,
        "wet_chance": np.where(wet == Wet.UNKNOWN, np.nan, chance),
        "suits_chance": agreement,
        "agreement": agreement,
    }
    doubt = xr.Dataset(
        {name: (DIMS, values.astype(np.float32)) for name, values in fields.items()},
        coords={name: flows[name] for name in ("flow", "asked", "x", "y")},
        attrs={"crs": CRS, "cell": 6.0, "members": 12},
    )
    along = Along(product.ground)
    layers = {**product.layers, "asks": _asks(along), **_channels(along, product)}
    told = {"members": 12, "words": [text or word for word in WORDS]}
    report = {**product.report, "ensemble": told}
    return replace(product, doubt=check_fields(doubt, "doubt"), layers=layers, report=report)


def _asks(along: Along):
    """Return ten places, the last of them a stick to time and an edge to note."""
    rows = [
        {
            "code": f"A{rank}",
            "rank": rank,
            "order": 11 - rank,
            "way": {10: "bank", 9: "bank", 8: "boat"}.get(rank, "foot"),
            "side": "right" if rank in (7, 9) else None if rank in (8, 10) else "left",
            "kind": {10: "edge", 9: "stick"}.get(rank, "sounding"),
            "station_m": 60.0 * rank,
            "offset_m": 4.0,
            "flow_m3_s": 60.0 if rank == 9 else np.nan,
            "cover": "brush" if rank == 9 else "",
            "spread_m": np.nan if rank >= 9 else 0.42,
            "gain": 0.2 / rank,
            "geometry": Point(along.at([60.0 * rank], 4.0)[0]),
        }
        for rank in range(1, 11)
    ]
    return layer_frame("asks", rows, CRS)


def _channels(along: Along, product: Product):
    """Return a side channel that wakes at the third flow, a dead arm, and a bar beside it."""
    channels, bars = [], []
    for index, label in enumerate(product.labels):
        base = {"flow": float(product.flows["flow"][index]), "flow_label": label}
        common = {"station_m": 0.0, "station_end_m": 9.0, "depth_m": 0.6, "width_m": 9.0}
        common |= {"from_node": "split", "to_node": "junction"}
        for kind, start, end, offset, first in (
            ("main", 2, along.length - 2, 0.0, 0),
            ("side", 0.24 * along.length, 0.37 * along.length, 18.0, 2),
            ("dead arm", 0.5 * along.length, 0.56 * along.length, -22.0, 1),
        ):
            if index < first:
                continue
            line = along.line(start, end, offset)
            channels.append(
                base
                | common
                | {
                    "code": f"C{len(channels)}",
                    "kind": kind,
                    "length_m": line.length,
                    "share": 0.12 if kind == "side" else 0.0,
                    "wakes_at_m3_s": float(product.flows["flow"][first]),
                    "geometry": line,
                }
            )
        if index < 3:
            bars.append(
                base
                | {
                    "code": "I1",
                    "area_m2": 900.0,
                    "station_m": 0.26 * along.length,
                    "on_foot": True,
                    "height_m": 0.4,
                    "open_until_m3_s": float(product.flows["flow"][1]),
                    "cut_off_m3_s": float(product.flows["flow"][2]),
                    "geometry": along.strip(0.26 * along.length, 0.34 * along.length, 9, 0),
                }
            )
    return {
        "channels": layer_frame("channels", channels, CRS),
        "bars": layer_frame("bars", bars, CRS),
    }
