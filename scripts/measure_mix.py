"""How far the map page's own mixing of two flows is off: depth, speed and edge, on a built reach.

``python -m scripts.measure_mix DIR`` prints two tables. The first mixes each two flows next to each
other halfway and compares with `flow.between` at that flow; the second mixes the flows on either
side of one that the engine solved, about twice as far apart as on the page, and compares with the
engine's own answer. Depth and speed go through the page's bytes as they do in the page.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap import open_reach
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import Wet
from reachmap.flow.between import flow_between
from reachmap.outputs.webmap.signed import (
    DRY_STEPS,
    TOP,
    UNKNOWN,
    depth_codes,
    depth_values,
    signed_depth,
)

HEADS = ("flow", "between", "depth rms", "bias", "p95", "speed rms", "edge", "lost")


@dataclass(frozen=True, slots=True)
class Bytes:
    """One flow as the page holds it: codes of signed depth, and speed [m/s]."""

    flow: float
    codes: FloatArray
    speed: FloatArray


def as_bytes(ground: xr.Dataset, flows: xr.Dataset, index: int) -> Bytes:
    """Return a flow as the page holds it."""
    one = flows.isel(flow=index)
    speed = np.hypot(one["east_speed"].to_numpy(), one["north_speed"].to_numpy())
    codes = depth_codes(signed_depth(ground, flows, index), one["wet"].to_numpy())
    return Bytes(float(one["flow"]), codes, np.nan_to_num(speed))


def mixed(low: Bytes, high: Bytes, flow: float) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return depth [m], speed [m/s] and which cells are known at a flow, as the page mixes them."""
    share = math.log(flow / low.flow) / math.log(high.flow / low.flow)
    values = depth_values()
    known = (low.codes <= TOP) & (high.codes <= TOP)
    pair = [values[np.minimum(one.codes, TOP)] for one in (low, high)]
    level = (1 - share) * pair[0] + share * pair[1]
    depth = values[np.minimum(np.searchsorted(values, level - 1e-6), TOP)]
    wet = [one.codes > DRY_STEPS for one in (low, high)]
    speed = (1 - share) * low.speed + share * high.speed
    speed = np.where(wet[0] & wet[1], speed, np.maximum(low.speed, high.speed))
    return np.asarray(depth), np.asarray(speed), known


def compared(low: Bytes, high: Bytes, truth: xr.Dataset, cell: float) -> list[str]:
    """Return a row of the table: errors of the mixed flow against a Dataset of one flow."""
    flow = float(truth["flow"])
    depth, speed, known = mixed(low, high, flow)
    wet = truth["wet"].to_numpy()
    known &= wet != Wet.UNKNOWN
    water, drawn = (wet == Wet.YES) & known, (depth > 0) & known
    both = water & drawn
    off = depth[both] - truth["depth"].to_numpy()[both]
    real = np.hypot(truth["east_speed"].to_numpy(), truth["north_speed"].to_numpy())[both]
    rim = np.count_nonzero(water & ~ndimage.binary_erosion(water)) * cell
    numbers = (
        np.sqrt(np.mean(off**2)),
        off.mean(),
        np.percentile(np.abs(off), 95),
        np.sqrt(np.nanmean((speed[both] - real) ** 2)),
        np.count_nonzero(water ^ drawn) * cell**2 / rim,
        np.count_nonzero(water & ~drawn) / water.sum(),
    )
    return [f"{flow:.1f}", f"{low.flow:.1f}-{high.flow:.1f}", *(f"{n:.4f}" for n in numbers)]


def table(title: str, rows: Sequence[Sequence[str]]) -> None:
    """Print a table; lengths in metres, speeds in metres a second."""
    print(title)
    for row in [HEADS, *rows]:
        print("  ".join(f"{one:>12s}" for one in row))
    means = np.array([[float(one) for one in row[2:]] for row in rows]).mean(axis=0)
    print("mean", " ".join(f"{one:.4f}" for one in means))


def main() -> None:
    """Measure a reach folder that was built."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder")
    product = open_reach(asked.parse_args().folder).map().mapped.product
    ground, solved = product.ground, product.flows
    cell, flows = float(ground.attrs["cell"]), product.with_all_flows.flows
    every = [as_bytes(ground, flows, k) for k in range(flows.sizes["flow"])]
    nodes = solved["flow"].to_numpy()
    rows = []
    for low, high in pairwise(every):
        middle = math.sqrt(low.flow * high.flow)
        truth = flow_between(ground, solved, middle).isel(flow=0)
        rows.append(compared(low, high, truth, cell))
    table("Halfway between two flows of the page, against flow.between", rows)
    rows = []
    for k in range(1, len(every) - 1):
        if every[k].flow in nodes:
            truth = flows.isel(flow=k)
            rows.append(compared(every[k - 1], every[k + 1], truth, cell))
    table("A solved flow left out, its neighbours mixed, against the engine", rows)
    unknown = np.mean([np.mean(one.codes == UNKNOWN) for one in every])
    print(f"cells unknown: {unknown:.3f}")


if __name__ == "__main__":
    main()
