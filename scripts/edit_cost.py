"""Measure what edits of a drawing cost in a program that keeps results in memory.

    python -m scripts.edit_cost [FOLDER] [--work DIR] [--only NAME ...]

Builds a reach folder (the sample) from nothing in one process, with a store and memory of its own,
and then once for each edit, each back to the drawing as it was first. Prints for every build the
processor time of each step [s] (user and system, one process) and the highest memory within it [MB;
where the system tells it]. Times are of the machine it runs on; compare within one run only.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from shapely.affinity import translate

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "data_samples" / "madeup_river"
sys.path.insert(0, str(ROOT))

from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.order import build_reach  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.pipeline.warm import keep_warm  # noqa: E402

Edit = Callable[[Markup], Markup]


def renamed_run(reach: Markup) -> Markup:
    """Return the drawing with another name of its first run."""
    one, *others = reach.runs
    return replace(reach, runs=(replace(one, name="Otherwise"), *others))


def longer_rod(reach: Markup) -> Markup:
    """Return the drawing with a first rod a foot longer."""
    kit = reach.plan.kit
    rod = replace(kit.rods[0], length_m=kit.rods[0].length_m + 0.3048)
    return _planned(reach, kit=replace(kit, rods=(rod, *kit.rods[1:])))


def taller(reach: Markup) -> Markup:
    """Return the drawing for a person who is taller."""
    kit = reach.plan.kit
    who = replace(kit.angler, height_m=kit.angler.height_m + 0.08)
    return _planned(reach, kit=replace(kit, angler=who))


def wades_less(reach: Markup) -> Markup:
    """Return the drawing for a person who wades a hand's breadth less deep."""
    kit = reach.plan.kit
    who = replace(kit.angler, wade_limit_m=kit.angler.wade_limit_m - 0.1)
    return _planned(reach, kit=replace(kit, angler=who))


def moved_hazard(reach: Markup) -> Markup:
    """Return the drawing with its first hazard 3 m farther east and north."""
    one, *others = reach.hazards
    return replace(reach, hazards=(replace(one, shape=translate(one.shape, 3, 3)), *others))


def grown_tree(reach: Markup) -> Markup:
    """Return the drawing with a first tree twice as high."""
    one, *others = reach.trees
    return replace(reach, trees=(replace(one, height_m=one.height_m * 2), *others))


def moved_sounding(reach: Markup) -> Markup:
    """Return the drawing with a first sounding a hand's breadth deeper."""
    one, *others = reach.soundings
    return replace(reach, soundings=(replace(one, depth_m=one.depth_m + 0.1), *others))


def _planned(reach: Markup, **change: object) -> Markup:
    return replace(reach, plan=replace(reach.plan, **change))


EDITS: dict[str, Edit] = {
    "renamed run": renamed_run,
    "longer rod": longer_rod,
    "taller person": taller,
    "wades less": wades_less,
    "moved hazard": moved_hazard,
    "grown tree": grown_tree,
    "changed sounding": moved_sounding,
}


class Costs:
    """Processor time and highest memory of each step of a build."""

    def __init__(self) -> None:
        """Begin before the first step."""
        self.steps: dict[str, tuple[float, float]] = {}
        self.name = "beginning"
        self.begun = _processor_s()
        _forget_peak()

    def progress(self, name: str, _done: int, _total: int) -> None:
        """Note the step that ends; `name` begins."""
        now, peak = _processor_s(), _peak_mb()
        spent, most = self.steps.get(self.name, (0.0, 0.0))
        self.steps[self.name] = spent + now - self.begun, max(most, peak)
        self.name, self.begun = name.split(",")[0], now
        _forget_peak()


def _processor_s() -> float:
    """Return the processor time of this process and those it has ended [s]."""
    return sum(os.times()[:4])


def _peak_mb() -> float:
    """Return the highest memory since `_forget_peak` [MB]; 0 where the system does not tell."""
    status = Path("/proc/self/status")
    if not status.is_file():
        return 0.0
    lines = status.read_text(encoding="ascii").splitlines()
    return next(int(one.split()[1]) / 1000 for one in lines if one.startswith("VmHWM"))


def _forget_peak() -> None:
    """Begin a new highest memory, where the system can."""
    refs = Path("/proc/self/clear_refs")
    if refs.is_file():
        refs.write_text("5", encoding="ascii")


def cost_of(reach: Markup, out: Path, options: Options) -> tuple[Costs, tuple[str, ...]]:
    """Return the cost of a build, step by step, and which stages were made afresh."""
    costs = Costs()
    built = build_reach(reach, out, options, progress=costs.progress)
    costs.progress("", 0, 0)
    return costs, built.fresh


def show(what: str, costs: Costs, fresh: tuple[str, ...]) -> None:
    """Print the cost of one build."""
    total = sum(spent for spent, _ in costs.steps.values())
    kinds = sorted({one.split()[0] for one in fresh})
    made = ", ".join(f"{kind} {sum(one.split()[0] == kind for one in fresh)}" for kind in kinds)
    print(f"\n{what}: {total:.1f} s; made afresh: {made or 'nothing'}")
    for name, (spent, peak) in costs.steps.items():
        if spent >= 0.05:
            print(f"  {spent:7.2f} s {peak:7.0f} MB  {name}")
    sys.stdout.flush()


def main() -> None:
    """Build, edit and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=SAMPLE)
    parser.add_argument("--work", type=Path, help="written folder to keep and begin from")
    parser.add_argument("--only", nargs="*", choices=EDITS, default=list(EDITS))
    asked = parser.parse_args()
    with TemporaryDirectory() as empty, keep_warm():
        out = asked.work or Path(empty) / "written"
        reach = read_markup(asked.folder)
        show("first build", *cost_of(reach, out, Options()))
        show("again", *cost_of(reach, out, Options()))
        for name in asked.only:
            show(name, *cost_of(EDITS[name](reach), out, Options()))


if __name__ == "__main__":
    main()
