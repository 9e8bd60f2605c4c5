"""Solve the shallow-water equations at each flow: depth and velocity in two dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.fields import check_fields
from reachmap.base.packed import packed_field
from reachmap.flow.engine.answer import Solved
from reachmap.flow.engine.grids import ground_frame
from reachmap.flow.engine.one_flow import Guess, Reach, solve_flow
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.notes import with_notes
from reachmap.flow.place import rising_flows
from reachmap.flow.profile import Profile, water_profile
from reachmap.flow.sections import SectionTables, sections_of
from reachmap.flow.settings import FlowSettings

START = FlowSettings()
"""How the ground is cut into sections for the start."""


def solve_engine(
    ground: xr.Dataset,
    flows: Sequence[float],
    foot_levels: Sequence[float],
    settings: EngineSettings,
    *,
    workers: int | None = None,
    near: xr.Dataset | None = None,
    starts: Sequence[Profile] | None = None,
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
    near
        A flow stage's Dataset on this raster whose flows, as many, lie near the answers: each
        starts from its own instead of the 1-D profile, and comes within the tolerances of what it
        would have come to.
    starts
        What `profiles` returns, where it is known already.

    Returns
    -------
    xr.Dataset
        The fields promised by stage "flow"; attrs `crs`, `cell`, `method` "engine"; notes as
        `notes_of` reads them. Each flow's numbers are the same computed alone or among others.

    Raises
    ------
    ValueError
        If flows are not positive and rising or levels do not match them.
    BuildError
        If a flow could not be solved: nothing half-solved is given.
    """
    wanted = rising_flows(flows)
    if len(foot_levels) != wanted.size or not np.isfinite(foot_levels).all():
        msg = f"foot_levels are {list(foot_levels)!r}, want a level for each of {wanted.size} flows"
        raise ValueError(msg)
    frame = ground_frame(ground)
    begun = starts or profiles(ground, wanted, foot_levels)
    reach = Reach.of(ground, frame)
    number = min(workers or cpu_count() or 1, wanted.size)

    def one(k: int) -> Solved | Fault:
        guess = None if near is None else Guess.of(near.isel(flow=[k]))
        return solve_flow(reach, begun[k], float(foot_levels[k]), settings, guess)

    if number > 1:
        # The largest flows take longest: begin with them.
        with ThreadPoolExecutor(number) as pool:
            tasks = [pool.submit(one, k) for k in range(wanted.size - 1, -1, -1)]
            answers = [task.result() for task in reversed(tasks)]
    else:
        answers = [one(k) for k in range(wanted.size)]
    faults = [answer for answer in answers if isinstance(answer, Fault)]
    if faults:
        raise BuildError(faults)
    return _dataset(ground, wanted, foot_levels, [a for a in answers if isinstance(a, Solved)])


def profiles(
    ground: xr.Dataset,
    flows: FloatArray,
    foot_levels: Sequence[float],
    tables: SectionTables | None = None,
) -> list[Profile]:
    """Return the 1-D profile of each flow, the engine's start.

    `tables` serve where the ground has been cut into sections already, as `START` says.
    """
    if tables is None:
        tables = sections_of(ground, START).tables
    slope = float(ground.attrs.get("slope", np.nan))
    lift = 0.5 * tables.step * (slope if np.isfinite(slope) else 0.0)
    return [
        water_profile(
            tables,
            float(flow),
            float(level) + lift,
            narrowing_loss=START.narrowing_loss,
            widening_loss=START.widening_loss,
        )
        for flow, level in zip(flows, foot_levels, strict=True)
    ]


def _dataset(
    ground: xr.Dataset,
    flows: FloatArray,
    foot_levels: Sequence[float],
    answers: list[Solved],
) -> xr.Dataset:
    """Return the answers as the flow stage's Dataset, packed."""
    data = {
        "level": packed_field([a.level for a in answers]),
        "depth": packed_field([a.depth for a in answers]),
        "east_speed": packed_field([a.east for a in answers]),
        "north_speed": packed_field([a.north for a in answers]),
        "wet": packed_field([a.wet for a in answers]),
        "inflow": (("flow",), flows),
        "outflow": (("flow",), np.array([a.reached.outflow for a in answers])),
        "imbalance": (("flow",), np.array([min(a.reached.section_error, 1.0) for a in answers])),
        "foot_level": (("flow",), np.asarray(foot_levels, dtype=np.float64)),
    }
    result = xr.Dataset(
        data,
        coords={"flow": flows, "x": ground["x"], "y": ground["y"]},
        attrs={
            "crs": ground.attrs["crs"],
            "cell": ground.attrs["cell"],
            "method": "engine",
        },
    )
    result = with_notes(result, [note for answer in answers for note in answer.notes])
    return check_fields(result, "flow")
