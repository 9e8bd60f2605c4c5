"""The facts of a guide's day from a build: built and read first where they are not stored."""

from __future__ import annotations

import os
from pathlib import Path

from reachmap.base.cache import is_good, keep_file
from reachmap.base.progress import Progress
from reachmap.pipeline.days import Gathered, facts_key
from reachmap.pipeline.stamp import Options
from reachmap.planner.guide.facts import VERSION, GuideFacts, facts_from, facts_text
from reachmap.planner.guide.settings import GuideSettings


def guide_facts_of(
    got: Gathered, options: Options, *, progress: Progress, workers: int
) -> GuideFacts:
    """Return what a guide's day needs of the build with these options.

    Parameters
    ----------
    got
        The folder.
    options
        Of the build.
    progress, workers
        As for `build_reach`.
    """
    path = got.out / "cache" / f"guide-{VERSION}-{facts_key(got, options)}.json"
    if is_good(path):
        os.utime(path)
        facts = facts_from(path.read_text(encoding="utf-8"))
        if facts is not None:
            return facts
    # here, since a stored answer needs none of it
    from reachmap.markup import read_markup
    from reachmap.pipeline.order import build_reach, make_product
    from reachmap.pipeline.settings import settings_for
    from reachmap.pipeline.stamp import current_report
    from reachmap.planner.guide.gather import Read, guide_facts

    progress("reading the drawing", 0, 1)
    reach = read_markup(got.folder)
    if current_report(got.folder, got.out, options) is None:
        build_reach(reach, got.out, options, progress=progress, workers=workers)
    product = make_product(reach, got.out, options, progress=progress, workers=workers)
    every = product.climbed
    facts = guide_facts(
        reach,
        Read(product.read.labels, product.read.flows, every.ground, every.flows),
        product.read.layers,
        product.report["runs_by_flow"],
        angler=settings_for(reach, options).angler,
        step_m=GuideSettings().float_step_m,
    )
    text = facts_text(facts)
    keep_file(path, lambda aside: aside.write_text(text, encoding="utf-8"), Path.read_bytes)
    return facts
