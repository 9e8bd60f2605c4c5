"""A mapped reach in memory, read at any flow: at a solved one or between two of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import xarray as xr

from reachmap.base.disk import room_on_disk
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.fields import with_labels
from reachmap.base.fingerprint import stage_key
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.writer import one_writer
from reachmap.flow.between import VERSION, flow_between, place_of
from reachmap.flow.notes import one_flow_of, stacked_flows
from reachmap.markup.model import Markup
from reachmap.outputs.product import Product
from reachmap.pipeline.order import begin_job, read_solved
from reachmap.pipeline.solving import Solved, solve_reach
from reachmap.pipeline.stamp import Options
from reachmap.uncertainty.between import doubt_between

OF_ONE_FLOW = {"flows": "label", "runs_by_flow": "flow_label"}
"""Lists of the report with rows of one flow each, and the name of the flow in them."""


@dataclass(frozen=True, slots=True)
class Mapped:
    """A mapped reach: what it was made from, its solved flows, and what was read of them.

    Parameters
    ----------
    reach, options
        The drawing and how it was mapped.
    out
        Written folder whose cache holds the stages.
    solved
        Ground, flow and ensemble.
    product
        Layers and report over all flows.
    fresh
        Stages that were not stored and made anew.
    """

    reach: Markup
    out: Path
    options: Options
    solved: Solved
    product: Product
    fresh: tuple[str, ...] = ()


def map_reach(
    reach: Markup,
    out: Path,
    options: Options,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> Mapped:
    """Map a reach without writing anything but the cache.

    Parameters
    ----------
    reach, out, options, progress, workers
        As for `pipeline.order.build_reach`.
    """
    job = begin_job(reach, out, options, progress, workers)
    with one_writer(out, "a map", waiting=job.steps.also), room_on_disk(out):
        solved = solve_reach(job)
        product = read_solved(job, options, solved)
    job.steps.finish()
    return Mapped(reach, out, options, solved, product, tuple(job.store.fresh))


def read_between(mapped: Mapped, flow: float, *, progress: Progress = lambda *_: None) -> Product:
    """Return water and angler at a flow between two solved ones, as a product of that flow alone.

    Runs and ways back are followed over the solved flows and this one together, so that the flow
    that cuts off a way back is known and runs keep their names, but for one that the piece between
    makes another kind of water (1 of 35 on the sample, at 55 m3/s). A note of the
    flow field names the solved flows on either side.

    Parameters
    ----------
    mapped
        The mapped reach.
    flow
        Discharge [m3/s], inside the range of the solved flows and none of them.
    progress
        Progress callback (step, done, total).

    Raises
    ------
    ValueError
        If it is outside the range or solved.
    MarkupError
        If its short name is that of a solved flow: ask for that one.
    """
    solved, units = mapped.solved, mapped.reach.plan.units
    flows = [float(value) for value in solved.flow["flow"].to_numpy()]
    made = flow_between(solved.ground, solved.flow, flow)
    label = flow_label(flow, units)
    if label in solved.flow["asked"].to_numpy():
        raise MarkupError([Fault("flow", f"{label} is solved already", "Ask for the solved flow")])
    place = place_of(flow, flows)
    keys = {str(number): key for number, key in enumerate(solved.flow_keys)}
    key = stage_key("between", VERSION, {"flow": flow.hex()}, keys)
    at = place.high
    bare = solved.flow.drop_vars("asked")
    parts = [one_flow_of(bare, index) for index in range(len(flows))]
    flowing = with_labels(stacked_flows([*parts[:at], made, *parts[at:]]), units)
    doubt = solved.ensemble.doubt
    if doubt is not None:
        one = doubt_between(doubt.drop_vars("asked"), made, place)
        parts = [doubt.drop_vars("asked").isel(flow=[index]) for index in range(len(flows))]
        doubt = xr.concat(
            [*parts[:at], one, *parts[at:]], dim="flow", combine_attrs="override", join="override"
        ).assign_coords(asked=flowing["asked"])
    more = replace(
        solved,
        flow=flowing,
        flow_keys=(*solved.flow_keys[:at], key, *solved.flow_keys[at:]),
        ensemble=replace(solved.ensemble, doubt=doubt),
    )
    options = replace(mapped.options, flows=(*flows[:at], flow, *flows[at:]))
    job = begin_job(mapped.reach, mapped.out, options, progress)
    with one_writer(mapped.out, "a map", waiting=job.steps.also), room_on_disk(mapped.out):
        product = only_flow(read_solved(job, options, more, carded=(flow,)), at)
    job.steps.finish()
    return product


def only_flow(product: Product, index: int) -> Product:
    """Return a product with one of its flows; layers over all flows stay as they are.

    Its report has no stamp: no build gives just this.
    """
    label = product.labels[index]
    report = {name: value for name, value in product.report.items() if name != "stamp"}
    if "cards" in report:
        report["cards"] = {run: {label: cards[label]} for run, cards in report["cards"].items()}
    for name in OF_ONE_FLOW.keys() & report.keys():
        report[name] = [row for row in report[name] if row[OF_ONE_FLOW[name]] == label]
    return replace(
        product,
        flows=one_flow_of(product.flows, index),
        doubt=None if product.doubt is None else product.doubt.isel(flow=[index]),
        layers={name: _of_flow(frame, label) for name, frame in product.layers.items()},
        report=report,
    )


def _of_flow(frame: gpd.GeoDataFrame, label: str) -> gpd.GeoDataFrame:
    """Return a layer's rows at one flow; all of a layer that is over all flows."""
    if "flow_label" not in frame:
        return frame
    return frame[frame["flow_label"] == label].reset_index(drop=True)
