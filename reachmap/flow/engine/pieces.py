"""Long rivers solved in overlapping pieces; flows and pieces are tasks for any kind of `map`.

A piece reaches past both ends of the stretch it is valid for: upstream so far that the inflow's
distribution no longer matters, downstream so far that the level held at its foot no longer matters.
Then neighbours agree where they meet, and how well they do is measured and noted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from os import cpu_count

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import BuildError
from reachmap.base.fields import check_fields
from reachmap.base.packed import known_cells, packed
from reachmap.flow.engine.joining import (
    Piece,
    joined_pieces,
    mean_level_at,
    mismatch,
    window,
)
from reachmap.flow.engine.settings import EngineSettings, Inflow
from reachmap.flow.engine.solve_engine import START, profiles, solve_engine
from reachmap.flow.notes import packed_flows
from reachmap.flow.profile import Profile
from reachmap.flow.sections import SectionTables, sections_of

SENT = ("bed", "roughness", "station", "offset", "cover")
"""Rasters of the ground that the engine needs."""
STARTS = ("level", "east_speed", "north_speed")
"""Rasters of water that a solve may start from."""
Mapper = Callable[[Callable[["Task"], xr.Dataset], Sequence["Task"]], Iterable[xr.Dataset]]
"""Something that works like `map`: runs a function over tasks, answers in order."""


@dataclass(frozen=True, slots=True)
class CutSettings:
    """How a river is cut.

    Parameters
    ----------
    length_m
        Greatest length a piece is valid for; shorter rivers are not cut. Our choice, range
        1000-10000: a piece of it has some 150,000 cells.
    above_widths
        How far a piece reaches upstream of it, in river widths. Our choice, 4-10: the inflow's
        distribution fades over depth / (2 friction factor), about one to three widths.
    below_backwaters
        How far it reaches downstream, in lengths depth / slope. Our choice, 1-3: a wrong level
        fades about as exp(-3.3 x) in them (gradually varied flow near normal depth, Chow 1959,
        from memory).
    level_m, speed_m_s
        Pieces whose levels or speeds at a cut differ by more (root mean square) are solved again,
        with the level of the piece below at their foot.
    rounds
        How often at most.
    """

    length_m: float = 6000.0
    above_widths: float = 6.0
    below_backwaters: float = 1.5
    level_m: float = 0.005
    speed_m_s: float = 0.01
    rounds: int = 3


CUT = CutSettings()


@dataclass(frozen=True, slots=True)
class Task:
    """One flow on one piece: all that is needed to work it out anywhere."""

    ground: xr.Dataset
    flow: float
    foot_level: float
    settings: EngineSettings
    near: xr.Dataset | None = None
    start: Profile | None = None


def run_task(task: Task) -> xr.Dataset:
    """Return one flow's Dataset; a pure function of the task, the same bytes wherever it runs."""
    return solve_engine(
        task.ground,
        [task.flow],
        [task.foot_level],
        task.settings,
        workers=1,
        near=task.near,
        starts=None if task.start is None else [task.start],
    )


def on_cores(work: Callable[[Task], xr.Dataset], tasks: Sequence[Task]) -> list[xr.Dataset]:
    """Return the answers to tasks, solved in parallel on this machine's cores."""
    with ThreadPoolExecutor(cpu_count() or 1) as pool:
        return list(pool.map(work, tasks))


def is_long(ground: xr.Dataset, cut: CutSettings = CUT) -> bool:
    """Return whether a river is cut into pieces."""
    return Centreline.of(ground).length > cut.length_m


def solve_by_tasks(  # noqa: PLR0913 - each a choice of its own
    ground: xr.Dataset,
    flows: Sequence[float],
    foot_levels: Sequence[float],
    settings: EngineSettings,
    *,
    mapper: Mapper = map,
    cut: CutSettings | None = None,
    near: xr.Dataset | None = None,
    starts: Sequence[Profile] | None = None,
) -> xr.Dataset:
    """Return what `solve_engine` returns, solved as one task a flow and piece.

    Parameters
    ----------
    ground, flows, foot_levels, settings, near, starts
        As for `solve_engine`.
    mapper
        Runs the tasks: `map`, a pool's map, or `on_scheduler` of `reachmap.flow.engine.scheduler`.
    cut
        How to cut the river; None: not at all, which gives the very bytes of `solve_engine`.

    Raises
    ------
    BuildError
        If a flow could not be solved on some piece.
    """
    wanted = np.asarray(flows, dtype=np.float64)
    feet = np.asarray(foot_levels, dtype=np.float64)
    begun = starts or profiles(ground, wanted, list(feet))
    pieces = _pieces(ground, wanted, cut) if cut else []
    if len(pieces) < 2 or cut is None:
        part = _sent(ground, SENT)
        tasks = [
            Task(part, float(flow), float(foot), settings, _near_part(near, k), begun[k])
            for k, (flow, foot) in enumerate(zip(wanted, feet, strict=True))
        ]
        return _joined_flows(list(mapper(run_task, tasks)))
    held = [_levels_at_feet(pieces, start, foot) for start, foot in zip(begun, feet, strict=True)]
    grounds = [_part(ground, piece) for piece in pieces]
    tables = [sections_of(part, START).tables for part in grounds]
    answers: dict[tuple[int, int], xr.Dataset] = {}
    due = [(k, p) for k in range(wanted.size) for p in range(len(pieces))]
    for _ in range(cut.rounds):
        tasks = [
            replace(
                _started(
                    _piece_task(ground, grounds[p], pieces[p], wanted[k], held[k][p], settings),
                    tables[p],
                ),
                near=_near_part(near, k, window(ground, grounds[p])),
            )
            for k, p in due
        ]
        answers.update(zip(due, mapper(run_task, tasks), strict=True))
        due = []
        for k in range(wanted.size):
            for p in range(len(pieces) - 1):
                apart = mismatch(ground, pieces[p].last, answers[k, p], answers[k, p + 1])
                if apart[0] > cut.level_m or apart[1] > cut.speed_m_s:
                    held[k][p] = mean_level_at(
                        ground, answers[k, p + 1], pieces[p].foot, held[k][p]
                    )
                    due.append((k, p))
        if not due:
            break
    whole = [
        joined_pieces(ground, pieces, [answers[k, p] for p in range(len(pieces))], float(feet[k]))
        for k in range(wanted.size)
    ]
    return _joined_flows(whole)


def _pieces(ground: xr.Dataset, flows: FloatArray, cut: CutSettings) -> list[Piece]:
    """Return the pieces, upstream first."""
    line = Centreline.of(ground)
    head, foot, width = line.head, line.foot, line.median_width
    number = max(int(np.ceil((foot - head) / cut.length_m)), 1)
    slope = float(ground.attrs.get("slope", np.nan))
    slope = slope if np.isfinite(slope) and slope > 0 else 0.001
    # depth of the largest flow by Manning in a wide channel, n about 0.035
    depth = (0.035 * float(flows.max()) / (width * np.sqrt(slope))) ** 0.6
    above, below = cut.above_widths * width, cut.below_backwaters * depth / slope
    ends = np.linspace(head, foot, number + 1)
    return [
        Piece(float(a), float(b), max(float(a) - above, head), min(float(b) + below, foot))
        for a, b in pairwise(ends)
    ]


def _levels_at_feet(pieces: list[Piece], start: Profile, foot_level: float) -> list[float]:
    """Return the level to hold at each piece's foot: the 1-D profile's, the given one last."""
    inner = [float(start.level_at(np.array([piece.foot]))[0]) for piece in pieces[:-1]]
    return [*inner, foot_level]


def _part(ground: xr.Dataset, piece: Piece) -> xr.Dataset:
    """Return the ground about a piece: its part of the line, the raster cropped to it."""
    line = ground["line_station"].to_numpy()
    vertex = np.flatnonzero((line >= piece.head) & (line <= piece.foot))
    cells, station = known_cells(ground["station"])
    cell = float(ground.attrs["cell"])
    near = (station > piece.head - 4 * cell) & (station < piece.foot + 4 * cell)
    rows, cols = (
        np.array([one.min(), one.max()]) for one in np.divmod(cells[near], ground.sizes["x"])
    )
    part = ground.isel(
        vertex=slice(vertex[0], vertex[-1] + 1),
        y=slice(rows[0], rows[-1] + 1),
        x=slice(cols[0], cols[-1] + 1),
    )
    return _sent(part, SENT)


def _sent(fields: xr.Dataset, names: Sequence[str]) -> xr.Dataset:
    """Return what a task needs of a Dataset, packed: it may be sent to another computer."""
    lines = [str(name) for name in fields.data_vars if fields[name].dims == ("vertex",)]
    return packed(fields[[*names, *lines]])


def _piece_task(
    ground: xr.Dataset,
    part: xr.Dataset,
    piece: Piece,
    flow: float,
    level: float,
    settings: EngineSettings,
) -> Task:
    """Return the task of a piece: tributaries above are in its head, those below left out."""
    mouths = [(inflow, _station_of(ground, inflow)) for inflow in settings.inflows]
    own = flow * (1 - sum(inflow.share for inflow, at in mouths if at >= piece.foot))
    inside = tuple(
        replace(inflow, share=inflow.share * flow / own)
        for inflow, at in mouths
        if piece.head <= at < piece.foot
    )
    return Task(part, float(own), level, replace(settings, inflows=inside))


def _started(task: Task, tables: SectionTables) -> Task:
    """Return a task that holds the profile it starts from, from the sections of its ground."""
    flow = np.array([task.flow])
    return replace(task, start=profiles(task.ground, flow, [task.foot_level], tables)[0])


def _near_part(
    near: xr.Dataset | None, k: int, window: tuple[slice, slice] = (slice(None), slice(None))
) -> xr.Dataset | None:
    """Return flow `k` of the water to start from, within a window of the raster."""
    if near is None:
        return None
    return _sent(near.isel(flow=[k], y=window[0], x=window[1]), STARTS)


def _station_of(ground: xr.Dataset, inflow: Inflow) -> float:
    """Return the station of the cell a tributary enters."""
    return float(ground["station"].sel(x=inflow.x, y=inflow.y, method="nearest"))


def _joined_flows(parts: list[xr.Dataset]) -> xr.Dataset:
    """Return single flows as one Dataset, checked."""
    if not parts:
        raise BuildError([])
    return check_fields(packed_flows(parts), "flow")
