"""Grade real cross-sections where somebody stood, and count what the grades say of each place.

    python -m scripts.measure_real_sections FILE.csv

The file is a survey's and stays outside the project: columns section, station_m (along the section
from its left or right edge), east_m, north_m, depth_m, speed_m_s, level_m, discharge_m3_s and
whole_section. Each whole section becomes a short straight reach of its own, as wide as the section,
its slope by Manning's formula so that the section carries its discharge; whole sections within
`SAME_REACH_M` of one another make one reach. All soundings are given, no terrain model. With
`--held-out` every other sounding is kept back and only the places kept back are judged.
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr
from shapely import LineString, Point, Polygon

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.angler import odds  # noqa: E402
from reachmap.angler.chance import expected_water  # noqa: E402
from reachmap.angler.view import View, view_of  # noqa: E402
from reachmap.angler.wading import (  # noqa: E402
    CAREFUL,
    EASY,
    grade_water,
    limit_for,
    limit_ratio,
    raw_chance,
)
from reachmap.angler.wading_settings import WadingSettings  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Cover, Part, Side, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import GroundSettings, build_ground  # noqa: E402
from reachmap.markup.dem_note import DemNote  # noqa: E402
from reachmap.markup.model import Bank, Markup, Plan, River, Sounding  # noqa: E402
from tests.ground.scenes import KIT, WINTER  # noqa: E402
from tests.made import CRS, ORIGIN_X, ORIGIN_Y  # noqa: E402

SAME_REACH_M = 250.0
RUN_OUT_WIDTHS = 4.0
"""How far the reach is drawn beyond its sections, in widths: grades need a width of each end."""
BANK_M = 25.0
SETTINGS = WadingSettings()
GROUND = GroundSettings()


def reaches(survey: pd.DataFrame) -> Iterator[list[pd.DataFrame]]:
    """Yield the whole sections of each reach, from upstream."""
    whole = survey[survey.whole_section & survey.depth_m.notna()]
    left = sorted((part for _, part in whole.groupby("section")), key=lambda s: -s.level_m.iloc[0])
    while left:
        mine = [left.pop(0)]
        for other in list(left):
            if np.hypot(*(_middle(other) - _middle(mine[0]))) < SAME_REACH_M:
                mine.append(other)
                left = [one for one in left if one is not other]
        yield mine


def _places(section: pd.DataFrame) -> np.ndarray:
    return section[["east_m", "north_m"]].to_numpy() + np.array([ORIGIN_X, ORIGIN_Y])


def _middle(section: pd.DataFrame) -> np.ndarray:
    ends = _places(section)[[0, -1]]
    return ends.mean(axis=0)


def _slope(sections: list[pd.DataFrame]) -> float:
    """Return the fall that carries the discharge of the mean section by Manning's formula."""
    found = []
    for one in sections:
        carry = np.trapezoid(one.depth_m ** (5 / 3), one.station_m) / GROUND.channel_roughness
        found.append((float(one.discharge_m3_s.iloc[0]) / carry) ** 2)
    return float(np.mean(found))


def drawn(sections: list[pd.DataFrame], used: list[np.ndarray], bed: str) -> Markup:
    """Return the drawing of a reach: line, banks at the sections' ends, soundings where used.

    `bed` is the word for its stones, "" for none.
    """
    across = [np.diff(_places(one)[[0, -1]], axis=0)[0] for one in sections]
    middle = [_middle(one) for one in sections]
    width = [float(np.hypot(*one)) + 2.0 for one in across]
    square = np.array([across[0][1], -across[0][0]])
    down = middle[-1] - middle[0] if len(sections) > 1 else square
    down = down / np.hypot(*down)
    run_out = RUN_OUT_WIDTHS * max(width) * down
    spine = np.array([middle[0] - run_out, *middle, middle[-1] + run_out])
    half = np.array([width[0], *width, width[-1]]) / 2
    left = np.array([-down[1], down[0]])
    banks = []
    for side, sign in ((Side.LEFT, 1.0), (Side.RIGHT, -1.0)):
        inner = spine + sign * half[:, None] * left
        ring = Polygon(np.vstack([inner, (inner + sign * BANK_M * left)[::-1]]))
        banks.append(Bank(f"{side.value} bank", ring, side, Cover.GRAVEL, np.nan, np.nan, ""))
    flow = float(sections[0].discharge_m3_s.iloc[0])
    soundings = [
        Sounding(f"{one.section.iloc[0]}-{number}", Point(place), float(depth), flow, np.nan)
        for one, keep in zip(sections, used, strict=True)
        for number, (place, depth) in enumerate(zip(_places(one), one.depth_m, strict=True))
        if keep[number]
    ]
    dem = DemNote(np.nan, "m", "")
    plan = Plan(
        "real", UnitSystem.METRIC, _slope(sections), flow, (flow,), WINTER, KIT, dem, bed=bed
    )
    river = River("real", Part.MAIN, LineString(spine))
    return Markup(CRS, plan, (river,), tuple(banks), soundings=tuple(soundings))


def judged(
    sections: list[pd.DataFrame], used: list[np.ndarray], *, rest: bool, bed: str
) -> pd.DataFrame:
    """Return what the map says at each measured place, beside what was measured.

    `rest`: only the places whose sounding was not given.
    """
    markup = drawn(sections, used, bed)
    ground = build_ground(markup, None, GROUND)
    water = solve(ground, [markup.plan.traced_flow], FlowSettings(method="engine"))
    view = view_of(ground, with_labels(water, UnitSystem.METRIC))
    places = pd.concat(sections)
    chosen = ~np.concatenate(used) if rest else np.ones(len(places), dtype=bool)
    return _beside(view, ground, places[chosen])


def _beside(view: View, ground: xr.Dataset, places: pd.DataFrame) -> pd.DataFrame:
    limit = limit_for(KIT.angler, SETTINGS)
    graded = grade_water(view, (), KIT.angler, SETTINGS)
    water = expected_water(view, view.speed[view.wet_cells], SETTINGS)
    raw = np.where(view.wet, view.spread(raw_chance(view, water, limit, SETTINGS)), np.nan)
    table = np.full(raw.shape, "", dtype=object)
    for name, mask in odds.bed_classes(view, SETTINGS):
        table[mask] = name
    row, col, _ = view.grid.index(*_places(places).T)
    terrain = replace(view, from_terrain=True)
    return pd.DataFrame(
        {
            "section": places.section.to_numpy(),
            "bed": table[row, col],
            "confidence": ground["confidence"].to_numpy()[row, col],
            "raw": raw[row, col],
            "chance": odds.observed_chance(raw, view, SETTINGS)[row, col],
            "with_terrain": odds.observed_chance(raw, terrain, SETTINGS)[row, col],
            "within": np.isin(graded.grade[row, col], (EASY, CAREFUL)),
            "grade": graded.grade[row, col],
            "strain": limit_ratio(places.depth_m.to_numpy(), places.speed_m_s.to_numpy(), limit),
            "mapped": limit_ratio(view.depth, view.speed, limit)[row, col],
        }
    )


def main() -> None:
    """Judge the survey and print what was found."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("file", type=Path)
    words.add_argument("--held-out", action="store_true")
    words.add_argument("--bed", default="cobble", help='word for the stones, "" for none')
    words.add_argument("--places", action="store_true", help="print every place")
    asked = words.parse_args()
    survey = pd.read_csv(asked.file)
    found = []
    for sections in reaches(survey):
        masks = [[np.ones(len(one), dtype=bool) for one in sections]]
        if asked.held_out:
            odd = [np.arange(len(one)) % 2 == 1 for one in sections]
            masks = [odd, [~one for one in odd]]
        found += [judged(sections, used, rest=asked.held_out, bed=asked.bed) for used in masks]
    table = pd.concat(found)
    if asked.places:
        print(table.round(3).to_string())
    within = table.strain <= 1
    odds_allow = table.with_terrain <= SETTINGS.careful_chance
    print(f"limits: {dataclasses.astuple(limit_for(KIT.angler, SETTINGS))}")
    print(f"measured within: {within.sum()}, shown: {(within & table.within).sum()}")
    print(f"measured beyond: {(~within).sum()}, let through: {(~within & table.within).sum()}")
    print("by the chance at the place alone, with the odds that hold under a terrain model:")
    print(f"shown: {(within & odds_allow).sum()}, let through: {(~within & odds_allow).sum()}")
    for part, of in (("within", within), ("beyond", ~within)):
        spread = table.raw[of].quantile([0.0, 0.25, 0.5, 0.75, 1.0]).round(2).tolist()
        print(f"raw chance of places {part}, quartiles: {spread}")


if __name__ == "__main__":
    main()
