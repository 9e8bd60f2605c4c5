"""The facts of a guide's day from a build: built and read first where they are not stored."""

from __future__ import annotations

from reachmap.markup.plan_parts import Outing
from reachmap.pipeline.days import Gathered, facts_key
from reachmap.pipeline.kept_facts import BuildOnDemand, kept_facts
from reachmap.planner.guide.facts import VERSION, GuideFacts, facts_from, facts_text
from reachmap.planner.guide.settings import GuideSettings


def guide_facts_of(got: Gathered, build: BuildOnDemand, outing: Outing) -> GuideFacts:
    """Return what a guide's day needs of a build, built first where it is not stored.

    Parameters
    ----------
    got, build
        The folder's plan and record, and its build.
    outing
        How the party gets about: a run's odds and what shuts it are from the bank that they keep
        to, whatever bank reach.toml speaks of.
    """

    def make() -> GuideFacts:
        from reachmap.pipeline.settings import settings_for  # a stored answer needs none of it
        from reachmap.planner.guide.gather import Read, guide_facts

        product = build.product_for(outing)
        every = product.with_all_flows
        return guide_facts(
            build.reach,
            Read(product.read.labels, product.read.flows, every.ground, every.flows),
            product.read.layers,
            product.report["runs_by_flow"],
            angler=settings_for(build.reach, build.options).angler,
            step_m=GuideSettings().float_step_m,
        )

    whom = f"{'boat' if outing.boat else 'foot'}-{outing.bank or 'any'}"
    path = got.out / "cache" / f"guide-{VERSION}-{whom}-{facts_key(got, build.options)}.json"
    return kept_facts(path, facts_from, facts_text, make)
