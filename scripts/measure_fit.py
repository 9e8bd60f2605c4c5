"""Measure how well `reachmap fit` finds roughness by cover, and what that is worth; docs/ground.md.

    python -m scripts.measure_fit [--seeds 10] [--even] [--sample [--engine]]

Made rivers (`scripts/fit_cases.py`) whose channel is 1.1, brush 1.5 and grass 0.7 times as rough as
their classes say, uneven from place to place, at flows 7 % off what was read. What was found is set
against the class's mean over the water of the high flow, in stated standard deviations. Speeds and
soft water on the map are set against the true ones as drawn, with one factor for all roughness, and
with one for each class. `--sample` takes the sample river instead, with and without ten sticks
timed at its high flow.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.words import COVER_CODES, Cover  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import GroundSettings, build_ground  # noqa: E402
from reachmap.ground.fit import Fitted, fit  # noqa: E402
from reachmap.ground.scaling import scaled  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.terrain import cover_factors  # noqa: E402
from scripts import ground_cases  # noqa: E402
from scripts.fit_cases import SETTINGS, TRUE, noted, timed  # noqa: E402
from scripts.measure_spread import soft, speed_of  # noqa: E402

QUICK = partial(solve, settings=FlowSettings())
NAMES = ("low", "middle", "high")


def one_class(ground: xr.Dataset) -> xr.Dataset:
    """Return a ground whose cover is all of the channel's class: one factor for all roughness."""
    bare = np.full_like(ground["cover"].to_numpy(), COVER_CODES[Cover.GRAVEL])
    return ground.assign(cover=(("y", "x"), bare, ground["cover"].attrs))


def put_to_use(ground: xr.Dataset, found: Fitted, settings: GroundSettings) -> xr.Dataset:
    """Return a ground with a fit."""
    return scaled(ground, found.roughness, found.depth, settings, cover_factors(found))


def figures(
    ground: xr.Dataset, truth: xr.Dataset, flows: tuple[float, ...], settings: FlowSettings
) -> dict[str, tuple[float, float]]:
    """Return by name of flow: rms of the speed [m/s] where both are wet, overlap of soft water."""
    made = solve(ground, list(flows), settings)
    found = {}
    for number, name in enumerate(NAMES):
        mine, theirs = made.isel(flow=number), truth.isel(flow=number)
        off = speed_of(mine) - speed_of(theirs)
        both = [soft(one["depth"].to_numpy(), speed_of(one)) for one in (mine, theirs)]
        shared = float((both[0] & both[1]).sum() / max((both[0] | both[1]).sum(), 1))
        found[name] = float(np.sqrt(np.nanmean(off**2))), shared
    return found


def fits(
    ground: xr.Dataset, notes: Markup, truth: xr.Dataset, flows: tuple[float, ...],
    settings: FlowSettings,
) -> Iterator[tuple[str, dict[str, tuple[float, float]], Fitted | None]]:  # fmt: skip
    """Yield a way of fitting, its figures, and what it found."""
    yield "as drawn", figures(ground, truth, flows, settings), None
    for name, base in (("one factor", one_class(ground)), ("by class", ground)):
        own = GroundSettings(cell=float(ground.attrs["cell"]))
        found = fit(base, notes, QUICK, own)
        yield name, figures(put_to_use(base, found, own), truth, flows, settings), found


def scores(found: Fitted, true: Mapping[str, float]) -> dict[str, tuple[float, float, float]]:
    """Return by class: factor found, stated doubt, distance from the truth in such doubts."""
    got = {"channel": (found.roughness, found.roughness_doubt)}
    got |= {name: (one.roughness, one.doubt) for name, one in found.covers.items()}
    return {
        name: (factor, doubt, float(np.log(factor / true[name]) / doubt))
        for name, (factor, doubt) in got.items()
        if name in true
    }


def told(name: str, got: Mapping[str, tuple[float, float]]) -> str:
    """Return figures as a row."""
    cells = " | ".join(f"{rms:.3f} | {share:.3f}" for rms, share in got.values())
    return f"| {name} | {cells} |"


def made_rivers(seeds: int, *, even: bool) -> None:
    """Print what was found on each made river, then the mean figures and the shares held."""
    kept: dict[str, list[dict[str, tuple[float, float]]]] = {}
    found_all: list[dict[str, tuple[float, float, float]]] = []
    for seed in range(1, seeds + 1):
        river = noted(seed, 10, even=even)
        ground = build_ground(river.notes, river.case.dem, SETTINGS)
        for name, got, found in fits(
            ground, river.notes, river.water, river.case.flows, FlowSettings()
        ):
            kept.setdefault(name, []).append(got)
            if found is not None and name == "by class":
                off = scores(found, river.true)
                found_all.append(off)
                print(
                    seed, *(f"{k} {a:.2f} ({d:.2f}, {z:+.1f} sd)" for k, (a, d, z) in off.items())
                )
                sys.stdout.flush()
    for name in TRUE:
        values = np.array([one.get(name, (1.0, 0.28, np.nan)) for one in found_all])
        off = np.abs(values[:, 2])
        told_of = np.isfinite(off)
        print(
            f"| {name} | {TRUE[name]} | {np.exp(np.log(values[:, 0]).mean()):.2f} "
            f"| {np.log(values[:, 0]).std():.2f} | {values[:, 1].mean():.2f} "
            f"| {(off[told_of] <= 1).sum()} / {(off[told_of] <= 2).sum()} of {told_of.sum()} |"
        )
    for name, many in kept.items():
        mean = {flow: tuple(np.mean([one[flow] for one in many], axis=0)) for flow in NAMES}
        print(told(name, mean))


def sample(settings: FlowSettings) -> None:
    """Print the sample's figures with its own notes, and with ten sticks at its high flow more."""
    case = ground_cases.sample_case()
    ground = build_ground(case.markup, case.dem, ground_cases.SETTINGS)
    truth = ground_cases.true_ground(case, ground)
    water = solve(truth, list(case.flows), settings)
    rng = np.random.default_rng(5)
    sticks = timed(truth, ground, water.isel(flow=2), case.flows[2], 10, rng)
    for words, markup in (
        ("own notes", case.markup),
        ("and ten sticks", replace(case.markup, speeds=(*case.markup.speeds, *sticks))),
    ):
        for name, got, found in fits(ground, markup, water, case.flows, settings):
            print(told(f"{words}, {name}", got), flush=True)
            if found is not None:
                print("   ", found.roughness, found.roughness_doubt, found.depth, found.covers)


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", type=int, default=10)
    words.add_argument("--even", action="store_true", help="no unevenness, flows as read")
    words.add_argument("--sample", action="store_true")
    words.add_argument("--engine", action="store_true", help="the engine judges the sample")
    asked = words.parse_args()
    if asked.sample:
        sample(FlowSettings(method="engine" if asked.engine else "profile"))
    else:
        made_rivers(asked.seeds, even=asked.even)


if __name__ == "__main__":
    main()
