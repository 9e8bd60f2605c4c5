"""A mapped reach in memory, evaluated at any flow: a solved one or between two of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from reachmap import angler
from reachmap.base.disk import room_on_disk
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.writer import one_writer
from reachmap.flow.notes import one_flow_of
from reachmap.markup.model import Markup
from reachmap.outputs.product import Product, of_flows
from reachmap.pipeline.flow_checks import check_within
from reachmap.pipeline.order import begin_job, follow_read
from reachmap.pipeline.readings import Readings, read_all, read_one
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.solving import Solved, solve_reach
from reachmap.pipeline.stamp import Options

OF_ONE_FLOW = {"flows": "label", "runs_by_flow": "flow_label"}
"""Lists of the report with rows of one flow each, and the name of the flow in them."""


@dataclass(frozen=True, slots=True)
class Mapped:
    """A mapped reach: its inputs, solved flows, and the layers read at each flow.

    Parameters
    ----------
    reach, options, settings
        The drawing and how it was mapped.
    out
        Written folder whose cache holds the stages.
    solved
        Ground, flow and ensemble.
    readings
        What was read at every rung of the ladder, ways back followed, so that one more flow is read
        alone.
    product
        Layers and report over all flows.
    fresh
        Stages that were not stored and made anew.
    """

    reach: Markup
    out: Path
    options: Options
    settings: Settings
    solved: Solved
    readings: Readings
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
        readings = read_all(job, solved)
        product = follow_read(job, options, solved, readings)
        closed = angler.with_closings(readings.layers, product.read.layers)
        readings = replace(readings, layers=closed)
    job.steps.finish()
    fresh = tuple(job.store.fresh)
    return Mapped(reach, out, options, job.settings, solved, readings, product, fresh)


def read_between(mapped: Mapped, flow: float, *, progress: Progress = lambda *_: None) -> Product:
    """Return water and angler at any flow within the range of a map, as a product of it alone.

    This flow alone is read; what was read at the ladder is held by the map. Runs and ways back are
    followed over the ladder and this flow together, so that the flow that cuts off a way back is
    known and runs keep their names, but for one that the piece between makes another kind of water
    (1 of 35 on the sample, at 55 m3/s). A note of the flow field names the solved flows on either
    side.

    Parameters
    ----------
    mapped
        The mapped reach.
    flow
        Discharge [m3/s], within the range of the map's flows.
    progress
        Progress callback (step, done, total).

    Raises
    ------
    MarkupError
        If it is outside the range.
    """
    solved, units = mapped.solved, mapped.reach.plan.units
    check_within([flow], mapped.product.read.flows, units)
    options, label = replace(mapped.options, flows=(flow,)), flow_label(flow, units)
    rungs = solved.rungs.with_one(solved.nodes, flow, units)
    solved = replace(solved, rungs=rungs)
    settings = replace(mapped.settings, flows=(flow,), rungs=rungs.flows)
    job = begin_job(mapped.reach, mapped.out, options, progress, settings=settings)
    with one_writer(mapped.out, "a map", waiting=job.steps.also), room_on_disk(mapped.out):
        one = read_one(job, solved, label)
    readings = mapped.readings.with_one(rungs.labels, label, one)
    product = only_flow(follow_read(job, options, solved, readings, only=label), 0)
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
    if "day_lists" in report:
        report["day_lists"] = {label: report["day_lists"].get(label, [])}
    for name in OF_ONE_FLOW.keys() & report.keys():
        report[name] = [row for row in report[name] if row[OF_ONE_FLOW[name]] == label]
    return replace(
        product,
        flows=one_flow_of(product.flows, index),
        doubt=None if product.doubt is None else product.doubt.isel(flow=[index]),
        layers=of_flows(product.layers, [label]),
        report=report,
    )
