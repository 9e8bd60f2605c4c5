"""The facts of a guide's day from a build: built and read first where they are not stored."""

from __future__ import annotations

from reachmap.pipeline.days import Gathered, facts_key
from reachmap.pipeline.kept_facts import BuildOnDemand, kept_facts
from reachmap.planner.guide.facts import VERSION, GuideFacts, facts_from, facts_text
from reachmap.planner.guide.settings import GuideSettings


def guide_facts_of(got: Gathered, build: BuildOnDemand) -> GuideFacts:
    """Return what a guide's day needs of a build, built first where it is not stored."""

    def make() -> GuideFacts:
        from reachmap.pipeline.settings import settings_for  # a stored answer needs none of it
        from reachmap.planner.guide.gather import Read, guide_facts

        product = build.product
        every = product.with_all_flows
        return guide_facts(
            build.reach,
            Read(product.read.labels, product.read.flows, every.ground, every.flows),
            product.read.layers,
            product.report["runs_by_flow"],
            angler=settings_for(build.reach, build.options).angler,
            step_m=GuideSettings().float_step_m,
        )

    path = got.out / "cache" / f"guide-{VERSION}-{facts_key(got, build.options)}.json"
    return kept_facts(path, facts_from, facts_text, make)
