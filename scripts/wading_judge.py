"""Maps of made rivers beside their true water: what wading grades say, and what is so."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.angler import odds  # noqa: E402
from reachmap.angler.chance import expected_water  # noqa: E402
from reachmap.angler.drift import drift_below  # noqa: E402
from reachmap.angler.hazards import hazard_mask  # noqa: E402
from reachmap.angler.rules import WadeLimit  # noqa: E402
from reachmap.angler.view import View, view_of  # noqa: E402
from reachmap.angler.wading import (  # noqa: E402
    BRUSHY,
    CAREFUL,
    EASY,
    NO,
    NONE,
    UNKNOWN,
    grade_water,
    join_to_land,
    limit_for,
    limit_ratio,
    raw_chance,
)
from reachmap.angler.wading_settings import WadingSettings  # noqa: E402
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray  # noqa: E402
from reachmap.base.cache import remembered  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.fingerprint import stage_key  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import VERSION, solve  # noqa: E402
from reachmap.markup.kit import Angler  # noqa: E402
from reachmap.markup.model import Hazard  # noqa: E402
from scripts.wading_cases import (  # noqa: E402
    ENGINE,
    RIVERS,
    STALE,
    Given,
    TrueRiver,
    given,
    true_cells,
)

SETTINGS = WadingSettings()
RULES_FLOW = ("vertical", "slope", "low_flow", "low_foot_level", "stone_size", "stone_depth")
"""What of a ground's attributes the flow stage looks at."""
TRULY_EASY = 1 / 3
"""Water under this share of every limit is truly easy."""


@dataclass(frozen=True, slots=True)
class Judge:
    """One flow of one map beside the truth: values at the 1 m cells, `cell` their map cell.

    `strain` is the load of the true water over the limit, `stale_strain` that of `STALE` times the
    flow; `wadeable` and `easy` where one may truly wade, and truly easily.
    """

    river: str
    view: View
    angler: Angler
    hazards: tuple[Hazard, ...]
    cell: IntArray
    strain: FloatArray
    stale_strain: FloatArray
    wadeable: BoolArray
    easy: BoolArray

    def grade(self, settings: WadingSettings) -> CodeArray:
        """Return the map's grades."""
        return grade_water(self.view, self.hazards, self.angler, settings).grade

    def chances(self, settings: WadingSettings) -> Iterator[tuple[str, FloatArray, BoolArray]]:
        """Yield each table's name with raw chances and whether truly beyond, of 1 m cells."""
        view = self.view
        cells = view.wet_cells
        brushy = np.isin(view.cover[cells], BRUSHY)
        speed = view.speed[cells] * np.where(brushy, settings.brush_slowing_high, 1.0)
        limit = limit_for(self.angler, settings)
        chance = raw_chance(view, expected_water(view, speed, settings), limit, settings)
        raw = view.spread(chance)
        use = view.wet & np.isfinite(raw) & odds.gradable(view, settings)
        for bed, mask in odds.bed_classes(view, settings):
            here = (use & mask).ravel()[self.cell]
            chance = raw.ravel()[self.cell][here]
            yield bed, chance, self.strain[here] > 1


@dataclass(slots=True)
class Row:
    """Counts of 1 m cells of one river, evidence and cell size over its flows."""

    graded: int = 0
    wrong: int = 0
    easy: int = 0
    worst: float = 0.0
    worst_easy: float = 0.0
    wadeable: int = 0
    shown: int = 0
    truly_easy: int = 0
    easy_shown: int = 0

    def add(self, judge: Judge, grade: CodeArray, *, stale: bool) -> None:
        """Count one flow."""
        here = grade.ravel()[judge.cell]
        mapped = judge.view.wet.ravel()[judge.cell]
        strain_ = judge.stale_strain if stale else judge.strain
        easy = here == EASY
        waded = easy | (here == CAREFUL)
        self.graded += int(waded.sum())
        self.wrong += int((waded & (strain_ > 1)).sum())
        self.easy += int(easy.sum())
        self.worst = max(self.worst, float(strain_[waded].max(initial=0.0)))
        self.worst_easy = max(self.worst_easy, float(strain_[easy].max(initial=0.0)))
        self.wadeable += int((judge.wadeable & mapped).sum())
        self.shown += int((judge.wadeable & waded).sum())
        self.truly_easy += int((judge.easy & mapped).sum())
        self.easy_shown += int((judge.easy & waded).sum())

    def cells(self) -> str:
        """Return the counts as cells of a table."""
        if not self.graded:
            return "nothing graded | - | - | 0 % | 0 %"
        return (
            f"{100 * self.wrong / self.graded:.2f} % of {self.graded} | {self.worst:.1f} | "
            f"{self.worst_easy:.1f} of {self.easy} | {_share(self.shown, self.wadeable)} | "
            f"{_share(self.easy_shown, self.truly_easy)}"
        )


def judges(river: TrueRiver, one: Given) -> list[Judge]:
    """Return every flow of a map beside the truth."""
    ground = one.ground
    modelled = ground.attrs["vertical"] == "dem"
    water = _kept(ground, _flows(river, ground))
    day = float(ground.attrs["low_flow"])
    then = water.sel(flow=day, method="nearest") if modelled else None
    row, col, map_row, map_col = true_cells(ground, river)
    cell = np.ravel_multi_index((map_row, map_col), ground["bed"].shape).astype(np.int32)
    angler = river.markup.plan.kit.angler
    limit = limit_for(angler, SETTINGS)
    return [
        Judge(
            river.name,
            view_of(ground, water.sel(flow=flow, method="nearest"), then),
            angler,
            river.markup.hazards,
            cell,
            _strain(river.at(flow), limit)[row, col],
            _strain(river.at(STALE * flow), limit)[row, col],
            *(mask[row, col] for mask in true_grade(river.name, flow)),
        )
        for flow in river.flows
    ]


def maps_of(
    name: str, cells: Sequence[float], evidence: Sequence[str], *, kept: bool = False
) -> Iterator[list[Judge]]:
    """Yield the flows of each map of a river: every evidence at every cell size.

    `kept`: only maps that were solved before and lie in the folder `REACHMAP_TRUTH`. No flow at all
    of a map none of whose water may be graded, whatever it is.
    """
    river = true_river(name)
    for cell in cells:
        for one in given(river, cell, evidence):
            if not _may_be_graded(one.ground):
                yield []
            elif not kept or _is_kept(one.ground, _flows(river, one.ground)):
                yield judges(river, one)


def _may_be_graded(ground: xr.Dataset) -> bool:
    """Return whether some water of a map may be graded: its bed was seen, formed or sounded."""
    sounded = ground["confidence"].to_numpy() >= SETTINGS.sounded_low
    return ground.attrs["vertical"] == "dem" or bool(sounded.any())


@lru_cache(maxsize=1)
def true_river(name: str) -> TrueRiver:
    """Return a river, made once."""
    return RIVERS[name]()


@lru_cache(maxsize=8)
def true_grade(name: str, flow: float) -> tuple[BoolArray, BoolArray]:
    """Return where one may truly wade by the same rules, and where that is truly easy, (y, x).

    No doubt in it: hazards, brush and the way to land count as on the map.
    """
    river = true_river(name)
    view = view_of(river.ground, river.at(flow))
    angler, hazards = river.markup.plan.kit.angler, river.markup.hazards
    load = limit_ratio(
        np.nan_to_num(view.depth), np.nan_to_num(view.speed), limit_for(angler, SETTINGS)
    )
    grade = np.where(load < TRULY_EASY, EASY, np.where(load <= 1, CAREFUL, NO)).astype(np.uint8)
    grade[~view.wet] = np.where(view.unknown[~view.wet], UNKNOWN, NONE)
    drift = drift_below(view, grade >= NO, hazards, SETTINGS)
    brushy = np.isin(view.cover[:, :], BRUSHY)
    with np.errstate(invalid="ignore"):
        hazard_m = drift.hazard_m.window(slice(None), slice(None))
        out = hazard_m <= SETTINGS.drift_high_m
        out |= brushy & (view.depth > SETTINGS.brush_depth_high_m)
    out |= hazard_mask(view, hazards, SETTINGS.hazard_reach_m)
    grade[view.wet & out] = NO
    joined = join_to_land(grade, view.land, view.dry)
    waded = (joined == EASY) | (joined == CAREFUL)
    return waded, waded & (load < TRULY_EASY) & ~brushy


def _strain(water: xr.Dataset, limit: WadeLimit) -> FloatArray:
    """Return the load of true water over the limit, dry ground 0."""
    depth = np.nan_to_num(water["depth"].to_numpy().astype(np.float64))
    speed = np.nan_to_num(np.hypot(water["east_speed"], water["north_speed"]).to_numpy())
    return limit_ratio(depth, speed, limit)


def _flows(river: TrueRiver, ground: xr.Dataset) -> list[float]:
    """Return the flows a map is solved at, the terrain model's day among them, rising [m3/s]."""
    modelled = ground.attrs["vertical"] == "dem"
    day = [float(ground.attrs["low_flow"])] if modelled else []
    return sorted({*day, *river.flows})


def _kept(ground: xr.Dataset, flows: Sequence[float]) -> xr.Dataset:
    """Return the map's water, kept in the folder `REACHMAP_TRUTH` if set."""
    path = _map_path(ground, flows)
    if path is None:
        return with_labels(solve(ground, flows, ENGINE), UnitSystem.METRIC)
    return remembered(path, lambda: with_labels(solve(ground, flows, ENGINE), UnitSystem.METRIC))


def _is_kept(ground: xr.Dataset, flows: Sequence[float]) -> bool:
    """Return whether the map's water was solved before and kept."""
    path = _map_path(ground, flows)
    return path is not None and path.exists()


def _map_path(ground: xr.Dataset, flows: Sequence[float]) -> Path | None:
    """Return where the map's water is kept; None where nothing is."""
    folder = os.environ.get("REACHMAP_TRUTH", "")
    if not folder:
        return None
    digest = hashlib.sha256()
    for name in ("bed", "roughness", "station"):
        digest.update(ground[name].to_numpy().tobytes())
    told = {name: str(ground.attrs[name]) for name in sorted(ground.attrs) if name in RULES_FLOW}
    key = stage_key("map", VERSION, {"flows": flows} | told, {"ground": digest.hexdigest()})
    return Path(folder) / f"map-{key}.nc"


def _share(part: int, whole: int) -> str:
    """Return a share in per cent."""
    return f"{100 * part / whole:.0f} %" if whole else "-"
