"""The engine's door: depth and speed in two dimensions at each flow."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from os import cpu_count

import numpy as np
import xarray as xr
from scipy.ndimage import binary_dilation

from reachmap.base.errors import BuildError, Fault
from reachmap.base.fields import check_fields
from reachmap.base.shapes import B1, F8, I4, U1
from reachmap.base.units import flow_label
from reachmap.base.words import Wet
from reachmap.flow.engine.basin import Basin, Demand
from reachmap.flow.engine.cells import Cells, Frame, cells_of
from reachmap.flow.engine.grids import (
    coarser,
    ground_frame,
    hand_down,
    joined_to_inflow,
    station_gradient,
    within_reach,
)
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.engine.steady import Reached, to_steady
from reachmap.flow.profile import Profile, water_profile
from reachmap.flow.sections import frame_of
from reachmap.flow.settings import FlowSettings

ENGINE_VERSION = 1
"""Raised when the engine's numbers change."""
WIDENINGS = 3
"""How often the cells are widened where water reaches their edge."""


@dataclass(frozen=True, slots=True)
class Solved:
    """One flow's answer on the ground's raster, rows as in the ground."""

    wet: U1
    level: F8
    depth: F8
    east: F8
    north: F8
    reached: Reached
    notes: tuple[str, ...]


def solve_engine(
    ground: xr.Dataset,
    flows: Sequence[float],
    foot_levels: Sequence[float],
    settings: EngineSettings,
    *,
    workers: int | None = None,
) -> xr.Dataset:
    """Return how the river runs at each flow, from the shallow-water equations.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flows
        Discharges [m3/s], rising, > 0.
    foot_levels
        Water level at the foot at each flow [m].
    settings
        Numbers of the scheme, tolerances, tributaries.
    workers
        How many flows are solved side by side; the machine's cores where not given. The numbers do
        not depend on it.

    Returns
    -------
    xr.Dataset
        The fields promised by stage "flow"; attrs `crs`, `cell`, `method` "engine" and `notes`
        (plain sentences, one a line). Each flow's numbers are the same asked for alone or in company.

    Raises
    ------
    ValueError
        If flows are not positive and rising or levels do not match them.
    BuildError
        If a flow could not be solved: nothing half-solved is given.
    """
    asked = np.asarray(flows, dtype=np.float64)
    if asked.size == 0 or not (asked > 0).all() or (np.diff(asked) <= 0).any():
        msg = f"flows are {list(flows)!r}, want positive and rising m3/s"
        raise ValueError(msg)
    if len(foot_levels) != asked.size or not np.isfinite(foot_levels).all():
        msg = f"foot_levels are {list(foot_levels)!r}, want a level for each of {asked.size} flows"
        raise ValueError(msg)
    frame, turned = ground_frame(ground)
    profiles = _profiles(ground, asked, foot_levels)
    number = min(workers or cpu_count() or 1, asked.size)

    def one(k: int) -> Solved | Fault:
        return _solve_flow(ground, frame, profiles[k], float(foot_levels[k]), settings, turned=turned)

    if number > 1:
        # The largest flows take longest: begin with them.
        with ThreadPoolExecutor(number) as pool:
            tasks = [pool.submit(one, k) for k in range(asked.size - 1, -1, -1)]
            answers = [task.result() for task in reversed(tasks)]
    else:
        answers = [one(k) for k in range(asked.size)]
    faults = [answer for answer in answers if isinstance(answer, Fault)]
    if faults:
        raise BuildError(faults)
    return _dataset(ground, asked, foot_levels, settings, [a for a in answers if isinstance(a, Solved)])


def _profiles(ground: xr.Dataset, flows: F8, foot_levels: Sequence[float]) -> list[Profile]:
    """Return the 1-D profile of each flow, the engine's start."""
    settings = FlowSettings()
    sections = frame_of(ground, settings)
    lift = 0.5 * sections.tables.step * float(ground.attrs.get("slope", 0.0))
    return [
        water_profile(
            sections.tables,
            float(flow),
            float(level) + (lift if np.isfinite(lift) else 0.0),
            narrowing_loss=settings.narrowing_loss,
            widening_loss=settings.widening_loss,
        )
        for flow, level in zip(flows, foot_levels, strict=True)
    ]


def _solve_flow(
    ground: xr.Dataset,
    frame: Frame,
    profile: Profile,
    foot_level: float,
    settings: EngineSettings,
    *,
    turned: bool,
) -> Solved | Fault:
    """Return one flow's answer, or why there is none."""
    label = flow_label(profile.flow, settings.units)
    margin = settings.margin_m
    for widening in range(WIDENINGS + 1):
        grids = _grids(ground, frame, profile, margin, settings)
        basin, reached = _down_the_grids(grids, profile, foot_level, settings)
        if not np.isfinite(reached.section_error) or not np.isfinite(basin.water).all():
            return _blew_up(label)
        if widening == WIDENINGS or not _short_of_cells(frame, basin):
            break
        margin *= 2
    if reached.section_error > settings.section_error_most:
        return _not_solved(label, reached)
    return _answer(frame, basin, reached, label, turned=turned)


def _grids(
    ground: xr.Dataset, frame: Frame, profile: Profile, margin: float, settings: EngineSettings
) -> list[tuple[Frame, Cells]]:
    """Return frames and cells, the coarsest first."""
    station = np.clip(np.nan_to_num(frame.station), frame.head, frame.foot)
    near = replace(frame, inside=within_reach(frame, profile.level_at(station), margin))
    ways = _end_directions(ground)
    frames = [near]
    for _ in range(settings.grids - 1):
        frames.append(coarser(frames[-1]))
    return [(each, cells_of(each, *ways)) for each in reversed(frames)]


def _end_directions(ground: xr.Dataset) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the directions of the line at head and foot, unit vectors east and north."""
    x, y = ground["line_x"].to_numpy(), ground["line_y"].to_numpy()
    ways = []
    for a, b in ((0, min(3, x.size - 1)), (max(x.size - 4, 0), x.size - 1)):
        size = float(np.hypot(x[b] - x[a], y[b] - y[a]))
        ways.append((float(x[b] - x[a]) / size, float(y[b] - y[a]) / size))
    return ways[0], ways[1]


def _down_the_grids(
    grids: list[tuple[Frame, Cells]], profile: Profile, foot_level: float, settings: EngineSettings
) -> tuple[Basin, Reached]:
    """Return the finest basin brought to steady flow, each grid started from the coarser one."""
    above: Basin | None = None
    for number, (frame, cells) in enumerate(grids):
        shares = sum(inflow.share for inflow in settings.inflows)
        demand = Demand(
            head=profile.flow * (1 - shares),
            level=foot_level,
            slope=float(profile.friction_slope[-1]),
            sources=[],
        )
        basin = Basin(cells, demand, settings)
        if above is None:
            _start(basin, frame, profile)
        else:
            hand_down(above, basin)
        reached = to_steady(basin, loose=number < len(grids) - 1)
        if not np.isfinite(basin.water).all():
            _start(basin, frame, profile)
        above = basin
    assert above is not None
    return above, reached


def _start(basin: Basin, frame: Frame, profile: Profile) -> None:
    """Fill the basin from the 1-D profile, speed by Manning along the line."""
    cells = basin.cells
    depth = np.maximum(profile.level_at(cells.station) - cells.bed, 0.0)
    depth[depth <= basin.settings.thin_m] = 0.0
    slope = np.interp(cells.station, profile.station, profile.friction_slope)
    speed = depth ** (2 / 3) * np.sqrt(np.maximum(slope, 0.0) / cells.rough2)
    east, north = station_gradient(frame)
    basin.water[:, 0] = depth
    basin.water[:, 1] = speed * east[cells.row, cells.col]
    basin.water[:, 2] = speed * north[cells.row, cells.col]


def _short_of_cells(frame: Frame, basin: Basin) -> bool:
    """Return whether water reached ground that was left out as too high."""
    cells = basin.cells
    wet = cells.spread(basin.water[:, 0], 0.0) > basin.settings.wet_m
    left_out = frame.inside & (cells.number < 0)
    return bool((binary_dilation(wet) & left_out).any())


def _answer(frame: Frame, basin: Basin, reached: Reached, label: str, *, turned: bool) -> Solved:
    """Return the basin's water on the ground's raster."""
    cells, water = basin.cells, basin.water
    wet = water[:, 0] > basin.settings.wet_m
    wet &= joined_to_inflow(basin, wet)
    codes = np.full(frame.bed.shape, Wet.NO, np.uint8)
    codes[cells.row[wet], cells.col[wet]] = Wet.YES
    beyond = ~frame.inside
    touched = binary_dilation(codes == Wet.YES, np.ones((3, 3), np.bool_)) & beyond
    codes[beyond] = Wet.UNKNOWN
    depth = cells.spread(np.where(wet, water[:, 0], np.nan))
    rasters = [
        codes,
        depth + frame.bed,
        depth,
        cells.spread(np.where(wet, water[:, 1], np.nan)),
        cells.spread(np.where(wet, water[:, 2], np.nan)),
    ]
    inner = [raster[1:-1, 1:-1] for raster in rasters]
    if turned:
        inner = [raster[::-1] for raster in inner]
    wet_codes, level, deep, east, north = (np.ascontiguousarray(raster) for raster in inner)
    return Solved(wet_codes, level, deep, east, north, reached, _notes(label, reached, basin, touched))


def _notes(label: str, reached: Reached, basin: Basin, touched: B1) -> tuple[str, ...]:
    """Return what a reader must know, in plain sentences."""
    notes = [
        f"{label}: solved in {reached.cycles} cycles ({reached.way}); the worst section's discharge is "
        f"{100 * reached.section_error:.2g} % off, a cycle still moves depth by "
        f"{1000 * reached.depth_change:.2g} mm and speed by {100 * reached.speed_change:.2g} cm/s."
    ]
    if not reached.solved:
        notes.append(
            f"{label}: the flow did not come quite to rest; tolerances asked for were "
            f"{100 * basin.settings.section_error:.2g} % and "
            f"{100 * basin.settings.speed_change_m_s:.2g} cm/s. Take its depths and speeds as less sure."
        )
    return tuple(notes)


def _dataset(
    ground: xr.Dataset,
    flows: F8,
    foot_levels: Sequence[float],
    settings: EngineSettings,
    answers: list[Solved],
) -> xr.Dataset:
    """Return the answers as the flow stage's Dataset."""
    dims = ("flow", "y", "x")
    data = {
        "level": (dims, np.stack([a.level for a in answers])),
        "depth": (dims, np.stack([a.depth for a in answers])),
        "east_speed": (dims, np.stack([a.east for a in answers])),
        "north_speed": (dims, np.stack([a.north for a in answers])),
        "wet": (dims, np.stack([a.wet for a in answers])),
        "inflow": (("flow",), flows),
        "outflow": (("flow",), np.array([a.reached.outflow for a in answers])),
        "imbalance": (("flow",), np.array([min(a.reached.section_error, 1.0) for a in answers])),
        "foot_level": (("flow",), np.asarray(foot_levels, dtype=np.float64)),
    }
    labels = [flow_label(flow, settings.units) for flow in flows]
    result = xr.Dataset(
        data,
        coords={"flow": flows, "asked": ("flow", labels), "x": ground["x"], "y": ground["y"]},
        attrs={
            "crs": ground.attrs["crs"],
            "cell": ground.attrs["cell"],
            "method": "engine",
            "notes": "\n".join(note for answer in answers for note in answer.notes),
        },
    )
    return check_fields(result, "flow")


def _blew_up(label: str) -> Fault:
    """Return the fault of a flow with no numbers at all."""
    return Fault(
        label,
        "the flow solver found no steady flow",
        "Check the bed for holes and spikes, and the level at the foot; --quick gives a preview",
    )


def _not_solved(label: str, reached: Reached) -> Fault:
    """Return the fault of a flow that did not come to rest."""
    return Fault(
        label,
        f"after {reached.cycles} cycles ({reached.way}) the discharge through some section is still "
        f"{100 * reached.section_error:.1f} % off",
        "Check the bed for holes and spikes, and the level at the foot; --quick gives a preview",
    )
