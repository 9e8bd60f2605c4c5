"""Many small reaches built side by side: clock and CPU for some numbers of workers, one at fault.

    python -m scripts.measure_waters --count 100 1 2 4       workers
    python -m scripts.measure_waters --count 100 --quick 1 2 4 --scheduler

Reaches of 150 to 250 m on cells of 4 m, three flows each; the one in the middle has no drawing.
Each run is a process of its own on fresh copies, kernels compiled before. With --scheduler a Dask
cluster of two worker processes on this machine builds them too, each reach a task.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reachmap.base.progress import Progress
from scripts.long_river import write_river

LENGTHS = (150.0, 175.0, 200.0, 225.0, 250.0)


def main() -> int:
    """Measure each way in turn; or one, told as JSON."""
    asked = _asked()
    if asked.one:
        sys.stdout.write(json.dumps(_build(Path(asked.one), asked.workers[0], asked)))
        return 0
    with tempfile.TemporaryDirectory() as home:
        made = Path(home) / "made"
        make_reaches(made, asked.count)
        ways = [(number, False) for number in asked.workers] + ([(1, True)] * asked.scheduler)
        for number, tasks in [(1, False), *ways]:  # the first compiles, on one reach
            first = not (Path(home) / "warm").exists()
            target = Path(home) / ("warm" if first else f"way-{number}-{tasks}")
            if first:
                shutil.copytree(made / "reach_000", target / "reach_000")
            else:
                shutil.copytree(made, target)
            told = _measured(target, number, asked, tasks=tasks)
            if not first:
                way = "scheduler" if tasks else f"{number} workers"
                print(f"{way}: {told}", flush=True)
                shutil.rmtree(target)
    return 0


def make_reaches(home: Path, count: int) -> None:
    """Write reach folders, the one in the middle without a drawing."""
    for number in range(count):
        folder = home / f"reach_{number:03d}"
        write_river(folder, LENGTHS[number % len(LENGTHS)])
        text = (folder / "reach.toml").read_text(encoding="utf-8")
        text = text.replace("[12, 20, 32, 50, 80]", "[20, 32, 50]\nladder = 0")
        (folder / "reach.toml").write_text(text, encoding="utf-8")
    (home / f"reach_{count // 2:03d}" / "markup.gpkg").unlink()


def _asked() -> argparse.Namespace:
    """Return what was asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("workers", nargs="+", type=int)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--scheduler", action="store_true")
    parser.add_argument("--tasks", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--one", default="", help=argparse.SUPPRESS)
    return parser.parse_args()


def _measured(
    folder: Path, workers: int, asked: argparse.Namespace, *, tasks: bool
) -> dict[str, object]:
    """Return what a process of its own measured, and the machine's load before and after."""
    words = [str(workers), "--one", str(folder)]
    words += ["--quick"] * asked.quick + ["--tasks"] * tasks
    before = os.getloadavg()[0]
    done = subprocess.run(
        [sys.executable, "-m", "scripts.measure_waters", *words],
        check=True, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    return {**json.loads(done.stdout), "load": [round(before, 1), round(os.getloadavg()[0], 1)]}


def _build(folder: Path, workers: int, asked: argparse.Namespace) -> dict[str, float]:
    """Build all reaches of a folder; return seconds of clock and CPU, and how many stand."""
    from reachmap.markup.waters import read_waters
    from reachmap.pipeline.stamp import Options
    from reachmap.pipeline.waters import build_waters

    @contextmanager
    def quiet() -> Iterator[Progress]:
        yield lambda *_: None

    options = Options(quick=asked.quick, cell=4.0, ensemble=False)
    begin = time.perf_counter()
    with _cluster(asked.tasks) as address:
        built = build_waters(
            read_waters(folder), options, progress=quiet, scheduler=address, workers=workers
        )
        clock = time.perf_counter() - begin
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    cpu = sum(one.ru_utime + one.ru_stime for one in used)
    stand = sum(one.error is None for one in built)
    return {
        "reaches": len(built),
        "stand": stand,
        "clock_s": round(clock, 1),
        "cpu_s": round(cpu, 1),
        "cpu_a_reach_s": round(cpu / len(built), 2),
        "most_mb": round(max(one.ru_maxrss for one in used) / 1024),
    }


@contextmanager
def _cluster(wanted: bool) -> Iterator[str]:
    """Yield the address of a cluster of two processes, or nothing."""
    if not wanted:
        yield ""
        return
    from dask.distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        yield cluster.scheduler_address


if __name__ == "__main__":
    sys.exit(main())
