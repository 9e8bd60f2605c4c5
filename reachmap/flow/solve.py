"""Solve the flow stage: level, depth and velocity from ground and flows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.base.fields import STACK, check_fields
from reachmap.base.words import Wet
from reachmap.flow.foot_rating import reach_foot_levels
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, with_notes
from reachmap.flow.place import rising_flows
from reachmap.flow.profile import Profile, water_profile
from reachmap.flow.section_rasters import Sections
from reachmap.flow.sections import CutGround
from reachmap.flow.settings import FlowSettings
from reachmap.flow.split import Flooded, Running, flooded, section_flows, split_flow
from reachmap.flow.table_height import high_sections
from reachmap.flow.tributaries import mouth_of

if TYPE_CHECKING:
    from reachmap.flow.engine.pieces import Mapper

RASTERS = ("level", "depth", "east_speed", "north_speed", "wet")
SCALARS = ("inflow", "outflow", "imbalance", "foot_level")


def solve(
    ground: xr.Dataset,
    flows: Sequence[float],
    settings: FlowSettings,
    *,
    mapper: Mapper | None = None,
    near: xr.Dataset | None = None,
) -> xr.Dataset:
    """Return how the river runs at each flow.

    Parameters
    ----------
    ground
        The ground stage's Dataset. `attrs["slope"]` rules the foot where no level is known there;
        `attrs["low_foot_level"]` [m], if given, is the water's level there at `attrs["low_flow"]`.
    flows
        Discharges [m3/s], rising, > 0.
    settings
        Method, foot rule, tributaries and the profile's figures.
    mapper
        Runs the engine's tasks, one a flow and stretch of river, as `map` does, on a scheduler for
        instance. None: on this machine's cores. The numbers do not depend on it.
    near
        Water near the answer at each flow, a flow stage's Dataset on this raster with as many
        flows: the engine starts from it, the profile has no use for it.

    Returns
    -------
    xr.Dataset
        The fields promised by stage "flow", dims flow, y, x; coordinate `flow` [m3/s]; attrs `crs`,
        `cell` and `method`; notes as `notes_of` reads them. Each flow's numbers are the same
        whether it is computed alone or among others, to the millimetre where one needs higher
        tables.

    Raises
    ------
    ValueError
        If flows are not positive and rising.
    BuildError
        If the ground cannot hold a flow or does not give what the method needs.
    """
    wanted = rising_flows(flows)
    ground, sections = high_sections(ground, wanted.tolist(), settings)
    feet = reach_foot_levels(ground, sections, wanted.tolist(), settings)
    if settings.method == "engine":
        return _by_engine(ground, sections, wanted, feet, settings, mapper, near)
    return _by_profile(ground, Sections.of(ground, sections), wanted, feet, settings)


def _by_engine(
    ground: xr.Dataset,
    sections: CutGround,
    flows: FloatArray,
    feet: FloatArray,
    settings: FlowSettings,
    mapper: Mapper | None,
    near: xr.Dataset | None,
) -> xr.Dataset:
    """Return the Dataset of the two-dimensional engine, tributaries in their places."""
    # Loaded only here: its compiled kernels take seconds to load.
    from reachmap.flow import engine

    inflows, notes = [], []
    for one in settings.tributaries:
        mouth = mouth_of(one, ground)
        inflows.append(engine.Inflow(one.share, mouth.x, mouth.y, mouth.radius_m))
        notes.append(FlowNote(NoteKind.TRIBUTARY, None, mouth.station, (one.share,), one.name))
    numbers = settings.engine or engine.EngineSettings()
    numbers = replace(numbers, inflows=(*numbers.inflows, *inflows))
    same = all(
        getattr(settings, name) == getattr(engine.START, name)
        for name in ("section_step_m", "sill_step_m")
    )
    starts = engine.profiles(ground, flows, list(feet), sections.tables if same else None)
    if mapper is None and not engine.is_long(ground):
        result = engine.solve_engine(
            ground, list(flows), list(feet), numbers, near=near, starts=starts
        )
    else:
        result = engine.solve_by_tasks(
            ground, list(flows), list(feet), numbers, mapper=mapper or engine.on_cores,
            cut=engine.CUT, near=near, starts=starts,
        )  # fmt: skip
    return check_fields(with_notes(result, [*notes, *notes_of(result)]), "flow")


def foot_levels(ground: xr.Dataset, flows: Sequence[float], settings: FlowSettings) -> FloatArray:
    """Return the water level at the foot of the reach at each flow [m], shape (flows,)."""
    ground, sections = high_sections(ground, flows, settings)
    return reach_foot_levels(ground, sections, flows, settings)


def _by_profile(
    ground: xr.Dataset,
    sections: Sections,
    flows: FloatArray,
    feet: FloatArray,
    settings: FlowSettings,
) -> xr.Dataset:
    """Return the Dataset of the 1-D profile and the split by conveyance."""
    rasters: dict[str, list[FloatArray | CodeArray]] = {name: [] for name in RASTERS}
    scalars: dict[str, list[float]] = {name: [] for name in SCALARS}
    notes: list[FlowNote] = []
    if settings.tributaries:
        notes.append(FlowNote(NoteKind.TRIBUTARY_NOT_MODELLED))
    for flow, foot in zip(flows.tolist(), feet.tolist(), strict=True):
        profile = water_profile(
            sections.cut.tables,
            flow,
            foot,
            narrowing_loss=settings.narrowing_loss,
            widening_loss=settings.widening_loss,
        )
        water = flooded(sections, profile, dry_depth=settings.dry_depth_m)
        running = split_flow(sections, profile, water, slope_rounds=settings.slope_rounds)
        made: tuple[FloatArray | CodeArray, ...] = (
            running.level,
            running.depth,
            running.east,
            running.north,
            water.wet,
        )
        for name, array in zip(RASTERS, made, strict=True):
            rasters[name].append(array)
        carried = section_flows(sections, running.depth, running.east, running.north)
        worst = float(np.abs(carried / flow - 1).max())
        for name, value in zip(
            SCALARS,
            (flow, float(carried[-1]), min(worst, 1.0), float(profile.level[-1])),
            strict=True,
        ):
            scalars[name].append(value)
        notes += _notes(sections, profile, water, running)
    data: dict[str, Any] = {name: (STACK, np.stack(stack)) for name, stack in rasters.items()}
    data |= {name: (("flow",), np.array(row)) for name, row in scalars.items()}
    result = xr.Dataset(
        data,
        coords={"flow": flows, "x": ground["x"], "y": ground["y"]},
        attrs={
            "crs": ground.attrs["crs"],
            "cell": ground.attrs["cell"],
            "method": "profile",
        },
    )
    return check_fields(with_notes(result, notes), "flow")


def _notes(
    sections: Sections, profile: Profile, water: Flooded, running: Running
) -> list[FlowNote]:
    """Return the notes on one flow."""
    flow, area = profile.flow, sections.cut.cell**2
    notes = []
    if profile.critical.any():
        where = profile.station[profile.critical]
        counts = (float(where.size), float(profile.station.size))
        notes.append(FlowNote(NoteKind.CRITICAL_DEPTH, flow, float(where[0]), counts))
    if running.broken:
        notes.append(FlowNote(NoteKind.NARROW, flow))
    if running.raised:
        notes.append(FlowNote(NoteKind.HELD_TO_WAVES, flow, None, (running.raised * area,)))
    unknown = int(((water.wet == Wet.UNKNOWN) & sections.inside).sum())
    if unknown:
        notes.append(FlowNote(NoteKind.UNKNOWN_GROUND, flow, None, (unknown * area,)))
    return notes
