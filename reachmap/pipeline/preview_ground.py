"""Preview of the ground on large cells, and its evidence used and unused: for `reachmap check`.

For a quick start neither the engine nor the water stage is imported here.
"""

from __future__ import annotations

import xarray as xr

from reachmap.ground import GroundSettings
from reachmap.markup.evidence import of_evidence
from reachmap.markup.model import Markup
from reachmap.pipeline.fitted import read_fitted
from reachmap.pipeline.noted import entries_of, evidence_facts, noted_reach
from reachmap.pipeline.noted_clarity import noted_clarity
from reachmap.pipeline.terrain import make_terrain
from reachmap.text.evidence import not_used_words, used_words

CELL_M = 4.0
"""Side of the preview's cells [m]: soundings lie metres apart anyway."""


def preview_ground(reach: Markup) -> xr.Dataset:
    """Return the ground on cells of 4 m.

    Raises
    ------
    BuildError
        If no honest ground can be made: a build would fail alike.
    MarkupError
        Listing every note of clarity that makes no sense.
    """
    noted_clarity(reach)  # its faults would stop a build
    settings = GroundSettings(cell=CELL_M)
    return make_terrain(noted_reach(reach), settings, read_fitted(reach.folder))


def preview_evidence(reach: Markup, ground: xr.Dataset) -> list[str]:
    """Return sentences on the evidence used and not used for a ground from `preview_ground`."""
    kept = read_fitted(reach.folder)
    facts = evidence_facts(ground, noted_reach(reach), entries_of(reach), kept)
    return [*used_words(facts), *not_used_words(facts, reach.plan.units)]


def disagreements(reach: Markup, ground: xr.Dataset) -> list[str]:
    """Return a sentence for each piece of evidence that contradicts another, warnings first."""
    notes = [*reach.assumed, *str(ground.attrs["notes"]).splitlines()]
    return of_evidence(dict.fromkeys(notes))
