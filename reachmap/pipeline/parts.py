"""Some kinds of output of a build, written again in another way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from reachmap.base.disk import room_on_disk
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.writer import one_writer
from reachmap.markup import read_markup
from reachmap.markup.model import Markup
from reachmap.outputs.choices import Choices
from reachmap.outputs.write import write_some
from reachmap.pipeline.any_flow import Mapped, map_reach, read_between
from reachmap.pipeline.flow_checks import check_within
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options, current_report, settled_folder, stored_options


def write_parts_of(
    folder: Path,
    out: Path | None,
    flows: Sequence[float] | None,
    names: Sequence[str],
    chosen: Choices,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> list[Path]:
    """Write some kinds of output of a reach folder's last build, with the options of that build.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than `written` in it.
    flows, names, chosen, progress, workers
        As for `write_parts`.

    Raises
    ------
    MarkupError
        If a flow is outside those mapped, or the folder does not read well.
    """
    target = settled_folder(folder, out)
    progress("reading the drawing", 0, 1)
    return write_parts(
        read_markup(folder),
        target,
        stored_options(target),
        names,
        chosen,
        flows=flows,
        progress=progress,
        workers=workers,
    )


def write_parts(  # noqa: PLR0913 - each a choice of its own
    reach: Markup,
    out: Path,
    options: Options,
    names: Sequence[str],
    chosen: Choices,
    *,
    flows: Sequence[float] | None = None,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> list[Path]:
    """Write some kinds of output of a build over its own; the rest is built first if need be.

    Parameters
    ----------
    reach, out, options, progress, workers
        As for `build_reach`.
    names
        Kinds of output, as in `outputs.write.WRITERS`.
    chosen
        How to write them.
    flows
        Discharges to write [m3/s]: those of the build, or any between them, which is read then;
        None for all of the build's.

    Returns
    -------
    list[Path]
        What was written.

    Raises
    ------
    MarkupError
        If a flow is outside those of the build.
    """
    doing, units = "writing " + " and ".join(names), reach.plan.units
    with one_writer(out, doing, waiting=lambda words: progress(words, 0, 1)), room_on_disk(out):
        mapped = _mapped(reach, out, options, progress, workers)
        product = mapped.product
        if flows is None:
            return write_some(product, out, names, chosen)
        check_within(flows, product.read.flows, units, where="--flow")
        labels = tuple(flow_label(flow, units) for flow in flows)
        built = tuple(label for label in labels if label in product.labels)
        paths = write_some(product, out, names, replace(chosen, labels=built)) if built else []
        for flow, label in zip(flows, labels, strict=True):
            if label not in built:
                one = read_between(mapped, flow, progress=progress)
                paths += write_some(one, out, names, replace(chosen, labels=(label,)))
        return paths


def _mapped(reach: Markup, out: Path, options: Options, progress: Progress, workers: int) -> Mapped:
    """Return the built reach; what is not built is built first."""
    current = reach.folder is not None and current_report(reach.folder, out, options) is not None
    if not current:
        build_reach(reach, out, options, progress=progress, workers=workers)
    return map_reach(reach, out, options, progress=progress, workers=workers)
