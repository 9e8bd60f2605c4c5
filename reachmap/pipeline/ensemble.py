"""The ensemble of a build: run only at the flows whose uncertainty is not in the cache yet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any

import xarray as xr

from reachmap import flow
from reachmap.base.digests import fingerprint
from reachmap.base.errors import BuildError
from reachmap.base.fingerprint import stage_key
from reachmap.base.language import tr
from reachmap.flow import FlowSettings
from reachmap.flow.notes import packed_flows
from reachmap.ground.cover_classes import CLASS_CODES
from reachmap.ground.ensemble import members
from reachmap.ground.settings import GroundSettings
from reachmap.markup.model import Markup
from reachmap.pipeline.fitted import StoredFit
from reachmap.pipeline.settings import Settings
from reachmap.pipeline.stage_ground import StageGround
from reachmap.pipeline.store import Store
from reachmap.text.sure import MODEL_ALONE, ensemble_words, left_out_words
from reachmap.uncertainty import VERSION, UncertaintySettings, estimate_uncertainty, spread_at
from reachmap.uncertainty.sticks import OPEN
from reachmap.water.clarity import clarity_at, limits_in

NOT_WORKED_OUT = "How sure the map is was not worked out: --no-ensemble."

ROUGH_SECTION, ROUGH_DEPTH_M, ROUGH_SPEED_M_S = 0.005, 0.002, 0.005
"""Convergence limits of a member solved by the engine: error of a section's discharge over the
inflow, change of depth [m] and speed [m/s] in a cycle. Our choice: a tenth of the spread sought."""


def ensemble_keys(
    flow_keys: Sequence[str],
    read: StageGround,
    reach: Markup,
    settings: Settings,
    kept: StoredFit | None,
) -> tuple[str, ...]:
    """Return the cache key of the uncertainty of every flow.

    Each is made of its flow's key, the part of the ground that the ensemble reads, and the settings
    that the members are drawn and solved with; the flow on the DEM's survey day and the season's
    limits count too.
    """
    numbers = {} if settings.uncertainty is None else asdict(settings.uncertainty)
    numbers["members_drawn"] = fingerprint(settings.ground)
    numbers["members_solved"] = asdict(rough(settings.flow))
    numbers["roughness_doubt"] = roughness_sd(kept, settings.ground)
    numbers["cover_doubts"] = cover_sds(kept, settings.ground)
    water = fingerprint(settings.water.limits, settings.water.clarity_m, settings.water.clarity_law)
    return tuple(
        stage_key(
            "doubt",
            VERSION,
            numbers,
            {
                "flow": key,
                "ground": read.key,
                "limits": water,
                "dem": fingerprint(reach.plan.dem.flow),
            },
        )
        for key in flow_keys
    )


@dataclass(frozen=True, slots=True)
class Ensemble:
    """Uncertainty of every flow and its keys; None without an ensemble, `notes` give the reason."""

    uncertainty: xr.Dataset | None = None
    keys: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def ensemble_of(
    reach: Markup,
    terrain: xr.Dataset,
    flows: tuple[xr.Dataset, Sequence[str]],
    settings: Settings,
    store: Store,
    kept: StoredFit | None,
) -> Ensemble:
    """Return the uncertainty of every solved flow, where an ensemble is wanted and can be run.

    Parameters
    ----------
    reach, terrain, settings, store
        Drawing, ground, settings and cache of the build.
    flows
        The flow stage's Dataset and the key of each flow.
    kept
        A fit, which narrows the uncertainty of the roughness; None without one.
    """
    if settings.uncertainty is None:
        return Ensemble(notes=(f"{NOT_WORKED_OUT} {MODEL_ALONE}",))
    flowing, flow_keys = flows
    read = StageGround.of("doubt", terrain)
    keys = ensemble_keys(flow_keys, read, reach, settings, kept)
    missing = [index for index, key in enumerate(keys) if not store.has("doubt", key)]
    make = partial(weigh, reach, read.ground, flowing.isel(flow=missing), settings, kept)
    try:
        made = store.timed("doubt", make) if missing else None
    except BuildError as error:
        found = (f"{one.where}: {one.found}." for one in error.faults)
        return Ensemble(notes=(*found, tr(MODEL_ALONE)))
    parts = (
        store.dataset(f"doubt {name}", key, partial(_one, made, missing, index))
        for index, (name, key) in enumerate(zip(flowing["asked"].to_numpy(), keys, strict=True))
    )
    whole = packed_flows(parts)
    return Ensemble(whole.assign_coords(asked=flowing["asked"]), keys)


def _one(made: xr.Dataset | None, missing: Sequence[int], index: int) -> xr.Dataset:
    """Return one flow out of those just computed."""
    if made is None:
        msg = f"doubt of flow number {index} was found stored, then not"
        raise RuntimeError(msg)
    return made.isel(flow=[list(missing).index(index)])


def roughness_sd(kept: StoredFit | None, settings: GroundSettings) -> float:
    """Return the standard deviation of the log of the channel's roughness: less after a fit."""
    usual = settings.spread.roughness_doubt
    return usual if kept is None else min(kept.found.roughness_doubt, usual)


def cover_sds(kept: StoredFit | None, settings: GroundSettings) -> dict[str, float]:
    """Return the same of each class of cover that a fit estimated, by name."""
    usual = settings.spread.cover_doubt
    fitted = {} if kept is None else kept.found.covers
    return {name: min(one.doubt, usual) for name, one in fitted.items()}


def class_sds(kept: StoredFit | None, settings: GroundSettings) -> dict[str, float]:
    """Return the same of every class of cover, the channel's among them."""
    usual = dict.fromkeys(CLASS_CODES, settings.spread.cover_doubt)
    return {OPEN: roughness_sd(kept, settings), **usual, **cover_sds(kept, settings)}


def weigh(
    reach: Markup,
    terrain: xr.Dataset,
    flowing: xr.Dataset,
    settings: Settings,
    kept: StoredFit | None,
) -> xr.Dataset:
    """Run the ensemble at the flows of a flow stage's Dataset.

    Raises
    ------
    BuildError
        If it cannot be run.
    """
    wanted = settings.uncertainty or UncertaintySettings()
    water = settings.water
    return estimate_uncertainty(
        terrain,
        flowing,
        members(
            terrain,
            reach,
            settings.ground,
            wanted.seed,
            wanted.members,
            roughness_sd=roughness_sd(kept, settings.ground),
            cover_sd=cover_sds(kept, settings.ground),
        ),
        partial(flow.solve, settings=rough(settings.flow)),
        [limits_in(water, clarity_at(float(q), water)) for q in flowing["flow"].to_numpy()],
        wanted,
    )


def rough(settings: FlowSettings) -> FlowSettings:
    """Return the flow stage's settings for a member: the same method with looser tolerances."""
    if settings.method != "engine":
        return settings
    from reachmap.flow.engine import EngineSettings  # its compiled loops take seconds to load

    own = replace(
        settings.engine or EngineSettings(),
        section_error=ROUGH_SECTION,
        depth_change_m=ROUGH_DEPTH_M,
        speed_change_m_s=ROUGH_SPEED_M_S,
    )
    return replace(settings, engine=own)


def uncertainty_report(
    report: Mapping[str, Any],
    uncertainty: xr.Dataset | None,
    ensemble: Ensemble,
    kept: StoredFit | None,
    method: str,
) -> dict[str, Any]:
    """Return the report's entries on uncertainty and on a fit, as plain JSON values.

    `ensemble` and `fitted` are null where there is none; with an ensemble `confidence` of each flow
    is its mean agreement.

    Parameters
    ----------
    report
        The report so far: seconds of the stages, confidence, warnings.
    uncertainty
        At the flows shown; None without an ensemble.
    ensemble, kept
        The ensemble at the solved flows, and a fit, if there is any.
    method
        Of the flow stage: "engine" or "profile".
    """
    fitted = None if kept is None else asdict(kept.found)
    warnings = [*report["warnings"], *ensemble.notes]
    if uncertainty is None:
        return {"ensemble": None, "fitted": fitted, "warnings": warnings}
    seconds = float(report["seconds"].get("doubt", 0.0))
    labels = uncertainty["asked"].to_numpy()
    spread = {str(one): spread_at(uncertainty, i) for i, one in enumerate(labels)}
    attrs = uncertainty.attrs if ensemble.uncertainty is None else ensemble.uncertainty.attrs
    count, cell = int(attrs["members"]), float(attrs["cell"])
    numbers = {
        "members": count,
        "cell_m": cell,
        "method": method,
        "seconds": round(seconds, 1),
        "spread": spread,
        "words": [
            ensemble_words(count, cell, method),
            *left_out_words(count, int(attrs["drawn"])),
        ],
    }
    sure = {label: one["agreement"] for label, one in spread.items()}
    return {"ensemble": numbers, "fitted": fitted, "confidence": sure, "warnings": warnings}
