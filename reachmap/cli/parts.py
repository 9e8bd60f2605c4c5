"""Some kinds of output of the last build, written again in another way."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from reachmap.base.units import flow_label
from reachmap.cli import say
from reachmap.cli.flows import folder_units, typed_flows
from reachmap.markup import open_reach
from reachmap.outputs.choices import Choices
from reachmap.pipeline.parts import write_parts
from reachmap.pipeline.stamp import asked_before, settled_folder


def write_named(
    folder: Path, out: Path | None, flows: Sequence[str], names: Sequence[str], chosen: Choices
) -> list[Path]:
    """Write some kinds of output and return their paths, with the options of the last build.

    Raises
    ------
    MarkupError
        If a flow was not typed well or is not built, or the folder does not read well.
    """
    units = folder_units(folder)
    asked = typed_flows(flows, units)
    labels = None if asked is None else tuple(flow_label(flow, units) for flow in asked)
    target = settled_folder(folder, out)
    options = asked_before(target)
    with say.progress() as told:
        told("reading the drawing", 0, 1)
        return write_parts(
            open_reach(folder),
            target,
            options,
            names,
            replace(chosen, labels=labels),
            told=told,
            workers=os.cpu_count() or 1,
        )
