"""The flow stage's door: from ground and flows to level, depth and speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.base.fields import STACK, check_fields
from reachmap.base.units import flow_label
from reachmap.base.words import Wet
from reachmap.flow.foot import known_foot_level, normal_foot_level
from reachmap.flow.profile import Profile, water_profile
from reachmap.flow.sections import Sections, sections_of
from reachmap.flow.settings import FlowSettings
from reachmap.flow.split import Flooded, Running, flooded, section_flows, split_flow
from reachmap.flow.tributaries import mouth_of

if TYPE_CHECKING:
    from reachmap.flow.engine import EngineSettings
    from reachmap.flow.engine.pieces import Mapper

RASTERS = ("level", "depth", "east_speed", "north_speed", "wet")
SCALARS = ("inflow", "outflow", "imbalance", "foot_level")


def solve(
    ground: xr.Dataset,
    flows: Sequence[float],
    settings: FlowSettings,
    *,
    mapper: Mapper | None = None,
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
        Runs the engine's tasks, one a flow and stretch of river, as `map` does: on a scheduler, for
        one. None: on this machine's cores. The numbers do not depend on it.

    Returns
    -------
    xr.Dataset
        The fields promised by stage "flow", dims flow, y, x; coordinates `flow` [m3/s] and `asked`
        (label); attrs `crs`, `cell`, `method` and `notes` (plain sentences, one a line). Each
        flow's numbers are the same whether it is asked for alone or among others.

    Raises
    ------
    ValueError
        If flows are not positive and rising.
    BuildError
        If the ground cannot hold a flow or does not give what the method needs.
    """
    asked = np.asarray(flows, dtype=np.float64)
    if asked.size == 0 or not (asked > 0).all() or (np.diff(asked) <= 0).any():
        msg = f"flows are {list(flows)!r}, want positive and rising m3/s"
        raise ValueError(msg)
    sections = sections_of(ground, settings)
    feet = _foot_levels(ground, sections, asked, settings)
    if settings.method == "engine":
        # Loaded only when asked for: its compiled loops take seconds to load.
        engine = import_module("reachmap.flow.engine")
        numbers, notes = _engine_settings(engine, ground, settings)
        if mapper is None and not engine.is_long(ground):
            result = engine.solve_engine(ground, asked, feet, numbers)
        else:
            result = engine.solve_by_tasks(
                ground, asked, feet, numbers, mapper=mapper or engine.on_cores, cut=engine.CUT
            )
        return _stamped(result, ground, asked, settings, notes)
    return _by_profile(ground, sections, asked, feet, settings)


def _engine_settings(
    engine: ModuleType, ground: xr.Dataset, settings: FlowSettings
) -> tuple[EngineSettings, list[str]]:
    """Return the engine's settings, tributaries in their places, and what is to be said of them."""
    numbers: EngineSettings = settings.engine or engine.EngineSettings()
    inflows, notes = [], []
    for one in settings.tributaries:
        mouth = mouth_of(one, ground)
        inflows.append(engine.Inflow(one.share, mouth.x, mouth.y, mouth.radius_m))
        notes.append(
            f"{one.name or 'A tributary'} brings {100 * one.share:.3g} % of the flow and joins "
            f"{mouth.station:.0f} m down the line; above it the river carries that much less."
        )
    return replace(numbers, units=settings.units, inflows=(*numbers.inflows, *inflows)), notes


def foot_levels(ground: xr.Dataset, flows: Sequence[float], settings: FlowSettings) -> FloatArray:
    """Return the water level at the foot of the reach at each flow [m], shape (flows,)."""
    return _foot_levels(
        ground, sections_of(ground, settings), np.asarray(flows, np.float64), settings
    )


def _foot_levels(
    ground: xr.Dataset, sections: Sections, flows: FloatArray, settings: FlowSettings
) -> FloatArray:
    """Return the levels at the foot: normal depth, led by known levels where there are any."""
    slope = float(ground.attrs["slope"])
    stretch = settings.foot_stretch * sections.river_width

    def normal(flow: float) -> float:
        return normal_foot_level(
            sections.tables, flow, slope=slope, foot=sections.foot, stretch_m=stretch
        )

    levels = np.array([normal(flow) for flow in flows])
    known = settings.foot_levels or _seen_at_foot(ground)
    if known:
        at_known = [normal(flow) for flow, _ in known]
        pairs = zip(flows, levels, strict=True)
        levels = np.array([known_foot_level(q, h, known, at_known) for q, h in pairs])
    return levels


def _seen_at_foot(ground: xr.Dataset) -> tuple[tuple[float, float], ...]:
    """Return flow and level of the low water at the foot, where the ground stage measured it."""
    seen = (float(ground.attrs.get(name, np.nan)) for name in ("low_flow", "low_foot_level"))
    flow, level = seen
    return ((flow, level),) if flow > 0 and np.isfinite(level) else ()


def _stamped(
    result: xr.Dataset,
    ground: xr.Dataset,
    flows: FloatArray,
    settings: FlowSettings,
    notes: list[str],
) -> xr.Dataset:
    """Return the engine's Dataset with the door's labels, marks and further notes, checked."""
    labels = [flow_label(flow, settings.units) for flow in flows]
    marks = {"crs": ground.attrs["crs"], "cell": ground.attrs["cell"], "notes": ""}
    stamped = result.assign_coords(asked=("flow", labels)).assign_attrs(
        marks | dict(result.attrs) | {"method": "engine"}
    )
    stamped.attrs["notes"] = "\n".join([*notes, *str(stamped.attrs["notes"]).splitlines()])
    return check_fields(stamped, "flow")


def _by_profile(
    ground: xr.Dataset,
    sections: Sections,
    flows: FloatArray,
    feet: FloatArray,
    settings: FlowSettings,
) -> xr.Dataset:
    """Return the Dataset of the 1-D profile and the split by conveyance."""
    labels = [flow_label(flow, settings.units) for flow in flows]
    rasters: dict[str, list[FloatArray | CodeArray]] = {name: [] for name in RASTERS}
    scalars: dict[str, list[float]] = {name: [] for name in SCALARS}
    notes: list[str] = []
    if settings.tributaries:
        notes.append(
            "The preview gives the river its whole flow all along: above a tributary it shows too "
            "much water."
        )
    for flow, foot, label in zip(flows, feet, labels, strict=True):
        profile = water_profile(
            sections.tables,
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
        notes += _notes(label, sections, profile, water, running)
    data: dict[str, Any] = {name: (STACK, np.stack(stack)) for name, stack in rasters.items()}
    data |= {name: (("flow",), np.array(row)) for name, row in scalars.items()}
    result = xr.Dataset(
        data,
        coords={"flow": flows, "asked": ("flow", labels), "x": ground["x"], "y": ground["y"]},
        attrs={
            "crs": ground.attrs["crs"],
            "cell": ground.attrs["cell"],
            "method": "profile",
            "notes": "\n".join(notes),
        },
    )
    return check_fields(result, "flow")


def _notes(
    label: str, sections: Sections, profile: Profile, water: Flooded, running: Running
) -> list[str]:
    """Return what a reader must know of one flow, in plain sentences."""
    notes = []
    if profile.critical.any():
        where = profile.station[profile.critical]
        notes.append(
            f"{label}: at {where.size} of {profile.station.size} sections, the first "
            f"{where[0]:.0f} m down the line, the water runs at critical depth; the level there is "
            "a lower bound."
        )
    if running.broken:
        notes.append(
            f"{label}: the water is narrower than a cell somewhere, so directions follow the line."
        )
    if running.raised:
        notes.append(
            f"{label}: {running.raised * sections.cell**2:.0f} m2 of water over ledges and steep "
            "riffles were held to the speed of waves; it may run thinner and faster there."
        )
    unknown = int(((water.wet == Wet.UNKNOWN) & sections.inside).sum())
    if unknown:
        notes.append(
            f"{label}: {unknown * sections.cell**2:.0f} m2 of low ground could be reached only "
            "over ground of unknown height; it is marked unknown."
        )
    return notes
