"""CPU time and memory of a build by stage and by length of the river: the table of docs/length.md.

    python -m scripts.measure_length 2.5 5 10        kilometres

Each length is built in a process of its own, from nothing, on one core, kernels compiled before.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from scripts.long_river import write_river

PAGE = Path(__file__).resolve().parents[1] / "docs" / "length.md"
CELL_M = 2.0
"""Cells of every length [m]: a build would choose smaller ones for the short rivers."""
BEGIN, END = "<!-- by length -->", "<!-- end of by length -->"
STAGES = {
    "the ground": "ground",
    "the flow of the river": "solved flows",
    "how sure it is": "ensemble",
    "the flows between": "flows between",
    "reading the water": "water, wading, stands",
    "water and wading read": "water, wading, stands",
    "following the runs": "runs, ways back",
    "writing maps": "maps",
    "writing sheets": "other files",
    "writing gpx": "other files",
    "writing kml": "other files",
    "writing gis": "other files",
    "writing table": "other files",
}


def main() -> int:
    """Measure every length asked for and write the table; or one, told as JSON."""
    if sys.argv[1] == "--one":
        sys.stdout.write(json.dumps(_build(Path(sys.argv[2]))))
        return 0
    lengths = [float(word) for word in sys.argv[1:]]
    told = []
    with tempfile.TemporaryDirectory() as home:
        for number, length in enumerate((1.0, *lengths)):  # the first compiles
            folder = Path(home) / f"river-{number}"
            write_river(folder, 1000 * length)
            told.append(_measured(folder))
            sys.stderr.write(f"{length:g} km: {told[-1]}\n")
            _write(lengths[:number], told[1:])  # a long one may be broken off
    return 0


def _measured(folder: Path) -> dict[str, dict[str, float]]:
    """Return what a process of its own measured."""
    command = [sys.executable, "-m", "scripts.measure_length", "--one", str(folder)]
    one_core = {**os.environ, "NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=one_core)
    found: dict[str, dict[str, float]] = json.loads(done.stdout)
    return found


def _build(folder: Path) -> dict[str, dict[str, float]]:
    """Build a folder and return CPU seconds and peak memory [MB] so far, by stage."""
    from reachmap.markup import read_markup
    from reachmap.pipeline.order import build_reach
    from reachmap.pipeline.stamp import Options

    cpu: dict[str, float] = {}
    peak: dict[str, float] = {}
    now = ["reading the drawing", time.process_time()]

    def step(name: str, _done: int, _total: int) -> None:
        stage = STAGES.get(str(now[0]).split(",")[0])
        spent = time.process_time() - float(now[1])
        kind = STAGES.get(name.split(",")[0])
        if stage is not None:
            cpu[stage] = cpu.get(stage, 0.0) + spent
            peak[stage] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        now[1] = time.process_time()
        if kind is not None or name == "done":
            now[0] = name

    begun = time.process_time()
    reach = read_markup(folder)
    cpu["drawing"] = time.process_time() - begun
    now[1] = time.process_time()
    build_reach(reach, folder / "written", Options(cell=CELL_M), progress=step)
    return {"cpu": cpu, "peak": peak}


def _write(lengths: list[float], told: list[dict[str, dict[str, float]]]) -> None:
    """Put the table between its marks in the docs; nothing is written of no length."""
    if not lengths:
        return
    head = "| stage | " + " | ".join(f"{length:g} km" for length in lengths) + " | growth |"
    lines = [head, "|---" * (len(lengths) + 2) + "|"]
    for stage in told[0]["cpu"]:
        seconds = [one["cpu"].get(stage, 0.0) for one in told]
        ratio = seconds[-1] / max(seconds[0], 1e-9)
        lines.append(
            f"| {stage} | " + " | ".join(f"{s:.1f} s" for s in seconds) + f" | {ratio:.1f} |"
        )
    whole = [sum(one["cpu"].values()) for one in told]
    lines.append(
        "| **all, CPU** | "
        + " | ".join(f"{s:.0f} s" for s in whole)
        + f" | {whole[-1] / whole[0]:.1f} |"
    )
    peaks = [max(one["peak"].values()) for one in told]
    lines.append(
        "| **peak memory** | "
        + " | ".join(f"{p:.0f} MB" for p in peaks)
        + f" | {peaks[-1] / peaks[0]:.1f} |"
    )
    if not PAGE.exists():
        sys.stdout.write("\n".join(lines) + "\n")
        return
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    PAGE.write_text(f"{before}{BEGIN}\n" + "\n".join(lines) + f"\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
