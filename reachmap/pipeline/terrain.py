"""The ground of a reach folder: its key, the DEM read, a fit applied."""

from __future__ import annotations

from dataclasses import asdict

import xarray as xr

from reachmap import ground
from reachmap.base.digests import fingerprint
from reachmap.base.fingerprint import stage_key
from reachmap.ground import GroundSettings
from reachmap.ground.fit import Fitted
from reachmap.ground.scaling import scaled
from reachmap.markup.model import Markup
from reachmap.pipeline.fitted import StoredFit, fitted_words


def drawn_digest(reach: Markup) -> str:
    """Return a digest of all inputs of the ground except settings and a fit."""
    plan = reach.plan
    drawn = fingerprint(
        reach.crs, reach.rivers, reach.banks, reach.edges, reach.soundings, reach.levels,
        reach.tracks, reach.trees, reach.rocks, plan.slope, plan.traced_flow, plan.dem, reach.gauge,
        plan.bed, plan.stones_m, reach.canopy,
    )  # fmt: skip
    return fingerprint(drawn, _tiles(reach))


def terrain_key(reach: Markup, settings: GroundSettings, kept: StoredFit | None) -> str:
    """Return the key of the ground."""
    inputs = {"drawn": drawn_digest(reach), "accepted": fingerprint(reach.plan.accepted)}
    if kept is not None:
        words = fitted_words(kept, drawn_digest(reach))
        found = kept.found
        inputs["fitted"] = fingerprint(found.roughness, found.depth, cover_factors(found), words)
    return stage_key("ground", ground.VERSION, asdict(settings), inputs)


def make_terrain(reach: Markup, settings: GroundSettings, kept: StoredFit | None) -> xr.Dataset:
    """Read the DEM, if there is one, make the ground, and apply a fit.

    Parameters
    ----------
    reach
        The drawing.
    settings
        Of the ground stage.
    kept
        A fit, or None.
    """
    grid = ground.grid_of(reach, settings.cell, settings.margin_m)
    dem = ground.read_dem(reach.dems, grid, reach.plan.dem) if reach.dems else None
    made = ground.build_ground(reach, dem, settings)
    if kept is None:
        return made
    found = kept.found
    words = fitted_words(kept, drawn_digest(reach))
    notes = [*str(made.attrs["notes"]).splitlines(), *words]
    return scaled(made, found.roughness, found.depth, settings, cover_factors(found)).assign_attrs(
        notes="\n".join(line for line in notes if line)
    )


def cover_factors(found: Fitted) -> dict[str, float]:
    """Return the roughness multiplier of each class of cover that a fit estimated."""
    return {name: one.roughness for name, one in found.covers.items()}


def _tiles(reach: Markup) -> dict[str, str]:
    """Return the digests of the DEM's files by name."""
    folder = reach.folder
    names = {
        path: path.relative_to(folder).as_posix() if folder is not None else path.name
        for path in reach.dems
    }
    return {path.name: reach.digests[name] for path, name in names.items()}
