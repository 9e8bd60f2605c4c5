"""What is wrong with flows typed for a reach folder, found before its drawing is read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reachmap.base.errors import Fault
from reachmap.markup.check_gauge import flow_faults
from reachmap.markup.gauge_of_folder import folder_gauge, folder_plan
from reachmap.pipeline.flow_checks import within_faults
from reachmap.pipeline.settings import ladder_of
from reachmap.pipeline.stamp import settled_folder, stored_options


def beyond_rating(folder: Path, flows: Sequence[float], *, where: str) -> list[Fault]:
    """Return what is wrong with flows to build [m3/s]: outside the folder's rating.

    Parameters
    ----------
    folder
        Reach folder; its other faults are left to its check.
    flows
        Discharges asked for [m3/s].
    where
        What the faults name.
    """
    read = folder_gauge(folder)
    return flow_faults(flows, read.gauge, read.units, where=where)


def beyond_map(
    folder: Path, out: Path | None, flows: Sequence[float], *, where: str
) -> list[Fault]:
    """Return what is wrong with flows to read of a folder's build [m3/s]: outside those mapped.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than `written` in it.
    flows
        Discharges asked for [m3/s].
    where
        What the faults name.
    """
    plan = folder_plan(folder).plan
    mapped = stored_options(settled_folder(folder, out)).flows or plan.flows
    if not mapped:
        return []
    _, rungs = ladder_of(mapped, plan)
    return within_faults(flows, rungs, plan.units, where=where)
