"""Some kinds of output of a build, written again in another way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from reachmap.base.disk import room_on_disk
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.progress import Progress
from reachmap.base.units import flow_label
from reachmap.base.writer import one_writer
from reachmap.markup import read_markup
from reachmap.markup.files import folder_units
from reachmap.markup.model import Markup
from reachmap.outputs.choices import Choices
from reachmap.outputs.product import Product
from reachmap.outputs.write import write_some
from reachmap.pipeline.order import build_reach, make_product
from reachmap.pipeline.stamp import Options, asked_before, current_report, settled_folder


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
    flows
        Discharges of the build to write [m3/s]; None for all.
    names, chosen, progress, workers
        As for `write_parts`.

    Raises
    ------
    MarkupError
        If a flow is not built, or the folder does not read well.
    """
    units = folder_units(folder)
    labels = None if flows is None else tuple(flow_label(flow, units) for flow in flows)
    target = settled_folder(folder, out)
    progress("reading the drawing", 0, 1)
    return write_parts(
        read_markup(folder),
        target,
        asked_before(target),
        names,
        replace(chosen, labels=labels),
        progress=progress,
        workers=workers,
    )


def write_parts(
    reach: Markup,
    out: Path,
    options: Options,
    names: Sequence[str],
    chosen: Choices,
    *,
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

    Returns
    -------
    list[Path]
        What was written.

    Raises
    ------
    MarkupError
        If a chosen flow is none of the build's.
    """
    doing = "writing " + " and ".join(names)
    with one_writer(out, doing, waiting=lambda words: progress(words, 0, 1)), room_on_disk(out):
        product = _product(reach, out, options, progress, workers)
        strange = [label for label in chosen.labels or () if label not in product.labels]
        if strange:
            fix = f"Choose of those that are built: {', '.join(product.labels)}"
            faults = [Fault("--flow", f"{label} is not built", fix) for label in strange]
            raise MarkupError(faults)
        return write_some(product, out, names, chosen)


def _product(
    reach: Markup, out: Path, options: Options, progress: Progress, workers: int
) -> Product:
    """Return the built reach; what is not built is built first."""
    current = reach.folder is not None and current_report(reach.folder, out, options) is not None
    if not current:
        build_reach(reach, out, options, progress=progress, workers=workers)
    return make_product(reach, out, options, progress=progress, workers=workers)
