"""Tabulate what is chosen at the places of a reach: gear, casts, swings; docs/swing.md.

    python -m scripts.measure_swing FOLDER OUT [--flows 600 1800 3200] [--keep FILE]

FOLDER is a reach folder and OUT its written folder, whose cache holds ground and flow: nothing is
solved again. Water and angler are read at each of the flows; the angler's part is timed, and of
that the plans and the swings worked out for them. The first flow holds the loading of kernels.
`--keep` stores what the angler's part takes, so that the next run begins there.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap import angler, water  # noqa: E402
from reachmap.angler import tries  # noqa: E402
from reachmap.base.units import FLOW, to_si  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.order import begin_job  # noqa: E402
from reachmap.pipeline.reading import reading_tasks  # noqa: E402
from reachmap.pipeline.settings import settings_for  # noqa: E402
from reachmap.pipeline.solving import solve_reach  # noqa: E402
from reachmap.pipeline.stamp import Options, stored_options  # noqa: E402
from reachmap.pipeline.store import Store  # noqa: E402


@dataclass(frozen=True)
class Taken:
    """What the angler's part takes: the ground, and at each flow its field and its water."""

    ground: xr.Dataset
    flows: list[tuple[str, xr.Dataset, gpd.GeoDataFrame]]
    then: xr.Dataset | None


def take(reach: Markup, out: Path, options: Options, wanted: Sequence[float]) -> Taken:
    """Return what the angler's part takes at the flows nearest to `wanted` [m3/s]."""
    job = begin_job(reach, out, options, lambda *_: None)
    solved = solve_reach(job)
    flows = np.array(solved.rungs.flows)
    numbers = sorted({int(np.abs(flows - one).argmin()) for one in wanted})
    with TemporaryDirectory() as empty:
        tasks = list(
            reading_tasks(
                reach, solved.ground, solved.rungs, job.settings, Store(Path(empty)),
                numbers=numbers, then=solved.terrain_day, uncertainty=None,
            )
        )  # fmt: skip
    ground = angler.marked_ends(solved.ground)
    bends = water.bends_of(ground, job.settings.water.bends)
    found = []
    for task in tasks:
        assert task.flow is not None
        read = water.read_water(ground, task.flow, job.settings.water, bends=bends)
        found.append((task.label, task.flow.load(), read.layers["water"]))
    return Taken(ground.load(), found, tasks[0].then)


STAGE = import_module("reachmap.angler.assess")
"""The module of the stage; its package has the stage's function of that name."""


@dataclass
class Clock:
    """Seconds of CPU spent in a function, and how many things it was asked for."""

    seconds: float = 0.0
    count: int = 0

    def around(self, work: Callable[..., Any]) -> Callable[..., Any]:
        """Return a function that does the work and notes its time and its first argument's size."""

        def timed(first: Any, *more: Any) -> Any:
            before = time.process_time()
            try:
                return work(first, *more)
            finally:
                self.seconds += time.process_time() - before
                self.count += len(first) if isinstance(first, list) else 1

        return timed


def told(values: pd.Series, count: int) -> str:
    """Return how often each value stands there, most often first."""
    return ", ".join(
        f"{name} {100 * number / max(count, 1):.0f} %"
        for name, number in Counter(values.astype(object).fillna("-")).most_common(7)
    )


def spread(values: pd.Series) -> str:
    """Return the 10 %, 50 % and 90 % quantiles."""
    known = values.dropna()
    if known.empty:
        return "none"
    return " / ".join(f"{one:.2f}" for one in np.quantile(known, (0.1, 0.5, 0.9)))


WORDS = ("head", "rod", "tip", "cast", "loop_side", "angle_deg", "tip_wants", "swing_end")
MORE_WORDS = (
    *(
        "out_tip",
        "out_tip_wants",
        "mends",
        "mend_to",
        "rod_high",
        "hang_down",
        "would_help",
        "second_pass",
        "take",
    ),
)
NUMBERS = ("cast_m", "room_m", "fly_depth_m", "fly_speed_m_s", "swing_s", "wait_s", "swim_s")
MORE_NUMBERS = (
    *("share_in_bands", "depth_share", "pace_share", "touch_share", "above_bed_m", "strip_m"),
    *("out_share_in_bands", "mend_m", "step_m", "slack_m", "pulls"),
)


def table(stations: pd.DataFrame) -> list[str]:
    """Return the lines of one table of stations."""
    made = stations[stations["cast"].notna()]
    lines = [f"{len(stations)} places, {len(made)} castable"]
    words = [name for name in (*WORDS, *MORE_WORDS) if name in made]
    numbers = [name for name in (*NUMBERS, *MORE_NUMBERS) if name in made]
    lines += [f"  {name:14s} {told(made[name], len(made))}" for name in words]
    return lines + [f"  {name:14s} {spread(made[name])}" for name in numbers]


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--flows", type=float, nargs="+", default=[600, 1800, 3200])
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    reach, options = read_markup(given.folder), stored_options(given.out)
    if given.keep is not None and given.keep.exists():
        taken = pickle.loads(given.keep.read_bytes())
    else:
        unit = FLOW[reach.plan.units]
        taken = take(reach, given.out, options, [to_si(one, unit) for one in given.flows])
        if given.keep is not None:
            given.keep.write_bytes(pickle.dumps(taken))
    settings = settings_for(reach, options).angler
    every = []
    plans, swings = STAGE.make_plans, tries.swing_many
    for number, (label, flow, pieces) in enumerate([taken.flows[0], *taken.flows]):
        planned, swung = Clock(), Clock()
        STAGE.make_plans, tries.swing_many = planned.around(plans), swung.around(swings)
        before = time.process_time()
        layers = angler.assess(taken.ground, flow, pieces, reach, settings, terrain_day=taken.then)
        seconds = time.process_time() - before
        each = 1000.0 * swung.seconds / max(swung.count, 1)
        print(
            f"{label}: plans {planned.seconds:.2f} s of CPU, {swung.count} swings of {each:.2f} ms"
        )
        if number == 0:  # the kernels are loaded
            continue
        every.append(layers["stations"])
        print(f"{label}: {seconds:.2f} s of CPU; " + "\n".join(table(layers["stations"])))
        if "tip_ladder" in layers:
            print(layers["tip_ladder"].drop(columns="geometry", errors="ignore").head(14))
    print("all: " + "\n".join(table(pd.concat(every))))


if __name__ == "__main__":
    main()
