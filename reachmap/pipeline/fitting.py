"""Fitting a reach to every note in its folder: drawn notes, and what the log saw."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from reachmap.flow import FlowSettings, solve
from reachmap.ground import GroundSettings
from reachmap.ground.fit import fit
from reachmap.logbook.model import Entry
from reachmap.markup.model import Markup
from reachmap.pipeline.fitted import StoredFit, rounded
from reachmap.pipeline.noted import with_log
from reachmap.pipeline.terrain import drawn_digest, make_terrain


def fit_reach(reach: Markup, entries: Sequence[Entry], settings: GroundSettings) -> StoredFit:
    """Return what brings the river nearest to the notes.

    The ground is made from all evidence, without an earlier fit; the flow is the 1-D profile,
    whose level is within two centimetres of the engine's on the sample, at a hundredth of its cost.

    Parameters
    ----------
    reach
        The drawing.
    entries
        Of the log.
    settings
        Of the ground stage.

    Raises
    ------
    BuildError
        If no ground can be made, or there is nothing to fit to.
    """
    noted = with_log(reach, entries)
    ground = make_terrain(noted, settings, None)
    run = partial(solve, settings=FlowSettings())
    return StoredFit(rounded(fit(ground, noted, run, settings)), drawn_digest(noted))
