"""What `reachmap fit` does: notes into a fit, the fit into words and a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from reachmap.base.leftovers import sweep_fits
from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem
from reachmap.base.writer import one_writer
from reachmap.ground import GroundSettings
from reachmap.ground.fit import Fitted
from reachmap.logbook.store import kept_in
from reachmap.markup import open_reach
from reachmap.pipeline.fitted import Kept, fitted_path, write_fitted
from reachmap.pipeline.fitting import fit_reach
from reachmap.pipeline.stamp import written_folder

KINDS = {
    "edge": ("edges seen", "height of the water at the place"),
    "level": ("levels noted", "height of the water"),
    "depth": ("soundings", "depth"),
    "speed": ("speeds", "speed"),
}
"""What each kind of note is called, and what is compared."""

SAME = 0.005
"""A change of a multiplier not worth telling."""


def fit_folder(
    folder: Path, *, keep: bool, waiting: Callable[[str], object] = lambda _: None
) -> list[str]:
    """Fit a reach folder to its notes; return what to say.

    Parameters
    ----------
    folder
        The reach folder.
    keep
        Whether the fit is written, for the next build to use.
    waiting
        Called with one sentence before waiting for a build to end.

    Raises
    ------
    HeldError
        If a build is under way and does not end soon.
    """
    reach = open_reach(folder)
    kept = fit_reach(reach, kept_in(folder), GroundSettings())
    lines = told(kept, reach.plan.units)
    if keep:
        with one_writer(written_folder(folder, None), "a fit", waiting=waiting):
            sweep_fits(folder)  # a build under way reads its inputs again when it ends
            path = write_fitted(folder, kept)
        lines.append(f"Kept in {path}: the next build uses it. Delete it to go back.")
    else:
        lines.append(f"Only a look: nothing was written to {fitted_path(folder)}.")
    lines.append("Your drawing was not changed.")
    return lines


def told(kept: Kept, units: UnitSystem) -> list[str]:
    """Return a fit as lines: what it moved, and how far the notes were off before and after."""
    found = kept.found
    sure = 100 * (np.exp(found.roughness_doubt) - 1)
    lines = [
        f"Roughness: {_moved(found.roughness)}, known to about {sure:.0f} %.",
        f"Depth of the bed nobody saw: {_moved(found.depth)}.",
        "How far off the map was from your notes (root mean square), before and after:",
    ]
    return lines + [_row(kind, found, units) for kind in KINDS if kind in found.number]


def _row(kind: str, found: Fitted, units: UnitSystem) -> str:
    """Return one kind of note as a line."""
    name, what = KINDS[kind]
    unit = SPEED[units] if kind == "speed" else LENGTH[units]
    if kind not in found.before or kind not in found.after:
        return f"  {found.number[kind]:4d} {name}: no water came near them"
    before, after = (from_si(values[kind], unit) for values in (found.before, found.after))
    return f"  {found.number[kind]:4d} {name}: {what} {before:.2f} -> {after:.2f} {unit}"


def _moved(factor: float) -> str:
    """Return a multiplier in words."""
    if abs(factor - 1) < SAME:
        return "as it was"
    return f"{abs(100 * (factor - 1)):.0f} % {'more' if factor > 1 else 'less'}"
