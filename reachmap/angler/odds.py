"""Which water may be graded, and the observed frequency of such water being beyond the limit."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files

import numpy as np

from reachmap.angler.braided import is_braided
from reachmap.angler.steps import below_steps
from reachmap.angler.view import Cells, View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import RiverKind

COARSE_M = 2.5
"""Water on larger cells [m] is not graded: they hide drops. Cells of 4 m let through water of five
times the limit on a made river, whatever the cut (docs/wading.md)."""

Knots = tuple[tuple[float, float], ...]
"""Raw chance and the share observed beyond the limit at it, both rising, 0 to 1."""


def river_kind(view: View) -> RiverKind:
    """Return whether the river runs in one thread or several, at this flow or the terrain's."""
    braided = any(
        is_braided(wet, view.station, view.offset, view.cell)
        for wet in (view.wet, view.wet_on_terrain_day)
    )
    return RiverKind.BRAIDED if braided else RiverKind.SINGLE


def observed_chance(
    raw: FloatArray, view: View, settings: WadingSettings, cells: Cells = ...
) -> FloatArray:
    """Return the chance of being beyond the limit as observed where the raw one was as given.

    Parameters
    ----------
    raw
        Chance by `chance.chance_beyond`, 0 to 1, shape (y, x), or (n,) of `cells`; NaN stays NaN.
    view
        For the evidence of the bed.
    settings
        Confidence from which ground counts as surveyed.
    cells
        Rows and columns that are looked at; all of the raster where not given.

    Notes
    -----
    Isotonic: a larger raw chance never gives a smaller one (`wading_odds.json`, made by
    `scripts/measure_wading.py` from made rivers whose truth is known). Straight between the knots;
    above the last the raw chance counts where it is the larger. Where no table was made the raw
    chance counts, which is the stricter.
    """
    result = raw.copy()
    for bed, here in bed_classes(view, settings, cells):
        knots = tables().get(bed)
        if knots:
            given, shown = np.array(knots).T
            here &= np.isfinite(raw)
            mine = raw[here]
            result[here] = np.where(
                mine <= given[-1], np.interp(mine, given, shown), np.maximum(mine, shown[-1])
            )
    return result


def bed_classes(
    view: View, settings: WadingSettings, cells: Cells = ...
) -> Iterator[tuple[str, BoolArray]]:
    """Yield the classes of evidence of the bed and their cells: seen dry, sounded, unseen.

    `cells` are rows and columns that are looked at; all of the raster where not given.

    Soundings without a terrain model are a class of their own, without a table: a braided river
    drawn as one thread is not known as braided then, and 33 to 60 % of its sounded water of raw
    chances that are safe elsewhere was beyond (docs/wading.md).
    """
    sure = np.nan_to_num(view.confidence[cells])
    seen = sure >= settings.seen_confidence
    sounded = ~seen & (sure >= settings.sounded_low)
    below = seen & view.wet_on_terrain_day[cells]
    yield "seen", seen & ~below
    yield "seen under water", below
    yield ("sounded" if view.from_terrain else "sounded alone"), sounded
    yield "unseen", ~seen & ~sounded


@cache
def tables() -> Mapping[str, Knots]:
    """Return the tables by name."""
    text = files("reachmap.angler").joinpath("wading_odds.json").read_text(encoding="utf-8")
    stored = json.loads(text)["tables"]
    return {
        str(name): tuple((float(raw), float(seen)) for raw, seen in knots)
        for name, knots in stored.items()
    }


def gradable(view: View, settings: WadingSettings, cells: Cells = ...) -> BoolArray:
    """Return the cells whose water may be graded at all; the rest is unknown.

    `cells` are rows and columns that are looked at; all of the raster where not given.

    Not graded: cells over `COARSE_M`; a braided river, whose threads no drawing has all of, so that
    even its shallow water runs quicker than mapped (figures in docs/wading.md); a bed of hardly any
    evidence; ground called seen dry that this very map wets at the flow of the terrain model's
    day; water near the head and the foot of the reach; water about a step of the level line
    (`steps.below_steps`); and, without a terrain model, all but the neighbourhood of soundings.
    """
    with np.errstate(invalid="ignore"):
        confidence, station = view.confidence[cells], view.station[cells]
        sure = confidence >= settings.unsure_low
        seen = confidence >= settings.seen_confidence
        if not view.from_terrain:
            sure &= confidence >= settings.sounded_low
        end = view.length
        margin = settings.ends_widths * view.width
        within = (station >= margin) & (station <= end - margin)
    single = river_kind(view) is RiverKind.SINGLE
    fine = view.cell <= COARSE_M
    under = seen & view.wet_on_terrain_day[cells] & (not view.bed_seen)
    known = ~under & ~below_steps(view, settings, cells)
    return np.asarray(sure & known & within & single & fine)


def easy_allowed(view: View) -> bool:
    """Return whether any water may be called easy: only with a terrain model.

    With drawn edges alone, or these and some soundings, the bed is a guess.
    """
    return view.from_terrain
