"""Graded water as polygons, each with what to know before stepping in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
from rasterio.features import shapes
from scipy import ndimage
from shapely.geometry import shape

from reachmap.angler.follow import follow_current
from reachmap.angler.view import View
from reachmap.angler.wading import CAREFUL, EASY, GRADES, NO, UNKNOWN, Wading
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import EIGHT, FOUR
from reachmap.base.tables import layer_frame
from reachmap.base.words import UnitSystem
from reachmap.markup.model import Hazard
from reachmap.text.numbers import distance_words, length_words, list_words

ALONG_SHARE = 0.7
"""From this share of a zone's length on, its bank counts as open all along; our choice, 0.6-0.9."""


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """What is known of one zone.

    `out_m` is how far from ground one can stand, `depth_m` and `speed_m_s` the most to reckon with,
    nine times of ten no more; `banks` the ground it touches; `bank_share` the share of its length
    along which it touches ground, `bank_at` where that is if not all along; `hazard_m` the drift to
    the nearest hazard, `hazard` its place in the list (-1 none); `deep_share` the share of it from
    which one drifts into water out of bounds; `lost` whether a drift runs into unknown water;
    `near` whether a hazard lies in it; `cut_share` the share nobody can get to on foot.
    """

    code: int
    out_m: float
    depth_m: float
    speed_m_s: float
    banks: tuple[str, ...]
    bank_share: float
    bank_at: str
    hazard_m: float
    hazard: int
    deep_share: float
    lost: bool
    cut_share: float


def wading_layer(
    view: View,
    wading: Wading,
    hazards: Sequence[Hazard],
    settings: WadingSettings,
    units: UnitSystem,
) -> gpd.GeoDataFrame:
    """Return the `wading` layer at one flow: one row a patch of one grade.

    Water of unknown grade is drawn where it touches known water; what lies farther off is not on
    the map at all.
    """
    rows: list[dict[str, Any]] = []
    rim = ndimage.binary_dilation(view.wet, EIGHT, iterations=2)
    for code, grade in GRADES.items():
        mask = wading.grade == code
        if code == UNKNOWN:
            mask &= view.wet | rim
        labels, count = ndimage.label(mask, FOUR)
        if not count:
            continue
        windows: list[Any] = ndimage.find_objects(labels)
        outlines = shapes(
            labels.astype(np.int32), mask=mask, connectivity=4, transform=view.grid.transform
        )
        for geometry, value in outlines:
            number = int(value)
            window = _wider(windows[number - 1])
            inside = labels[window] == number
            facts = zone_facts(view, wading, inside, window, code)
            polygon = shape(geometry)
            if code in (EASY, CAREFUL):
                facts = _looked(view, facts, inside, window, settings.below_m)
            near = min((polygon.distance(one.shape) for one in hazards), default=float("inf"))
            rows.append(
                {
                    "flow": view.flow,
                    "flow_label": view.label,
                    "grade": grade.value,
                    "area_m2": float(polygon.area),
                    "out_m": facts.out_m,
                    "depth_m": facts.depth_m,
                    "below": hazard_words(hazards[facts.hazard]) if facts.hazard >= 0 else "",
                    "below_m": facts.hazard_m,
                    "cut_off": "",
                    "note": zone_note(facts, hazards, settings, units, near_m=near),
                    "geometry": polygon,
                }
            )
    return layer_frame("wading", rows, view.grid.crs)


def _looked(
    view: View, facts: ZoneFacts, inside: BoolArray, window: tuple[slice, slice], below_m: float
) -> ZoneFacts:
    """Return the facts, `lost` too where a drift leaves the map within the look."""
    if facts.hazard >= 0 or facts.lost:
        return facts
    row, col = (axis.astype(np.int32) for axis in np.nonzero(inside))
    drifts = follow_current(view, row + window[0].start, col + window[1].start, below_m)
    return replace(facts, lost=not bool(drifts.whole.all()))


def zone_facts(
    view: View, wading: Wading, inside: BoolArray, window: tuple[slice, slice], code: int
) -> ZoneFacts:
    """Return what is known of a zone: its cells in a `window` one cell wider than the zone."""
    beside = ndimage.binary_dilation(inside, FOUR)
    shore = inside & ndimage.binary_dilation(view.dry[window], FOUR)
    touched = beside & view.dry[window]
    side = view.side[window][touched]
    banks = tuple(
        name
        for name, here in (
            ("river left", bool((side > 0).any())),
            ("river right", bool((side < 0).any())),
            ("an island or bar", bool((side == 0).any())),
        )
        if here
    )
    share, where = _along(view.station[window], inside, shore)
    drift = wading.drift
    away = np.where(inside, drift.hazard_m[window], np.nan)
    nearest = int(np.nanargmin(away)) if np.isfinite(away).any() else -1
    deep = np.isfinite(drift.deep_m[window][inside])
    return ZoneFacts(
        code=code,
        out_m=_most(wading.out_m[window][inside]),
        depth_m=_most(wading.depth[window][inside]),
        speed_m_s=_most(wading.speed[window][inside]),
        banks=banks,
        bank_share=share,
        bank_at=where,
        hazard_m=float(away.flat[nearest]) if nearest >= 0 else float("nan"),
        hazard=int(drift.hazard[window].flat[nearest]) if nearest >= 0 else -1,
        deep_share=float(deep.mean()),
        lost=bool(drift.lost[window][inside].any()),
        cut_share=float(wading.cut[window][inside].mean()),
    )


def _wider(window: tuple[slice, slice]) -> tuple[slice, slice]:
    """Return a window with one more cell all round, for the ground beside it."""
    rows, cols = window
    return (
        slice(max(rows.start - 1, 0), rows.stop + 1),
        slice(max(cols.start - 1, 0), cols.stop + 1),
    )


def zone_note(
    facts: ZoneFacts,
    hazards: Sequence[Hazard],
    settings: WadingSettings,
    units: UnitSystem,
    *,
    near_m: float = float("inf"),
) -> str:
    """Return plain sentences for one zone; what is unknown is named.

    `near_m` is how far off the nearest drawn hazard lies, straight [m].
    """
    if facts.code == UNKNOWN:
        return "Nobody knows the depth or speed here: treat it as out of bounds."
    if facts.code == NO:
        return _closed_note(facts, hazards, units)
    words = [
        f"Likely within your limits ({odds_words(settings.careful_chance)} beyond): slow down, use "
        "a staff."
    ]
    if facts.code == EASY:
        words = [f"Likely well within your limits: {odds_words(settings.easy_chance)} beyond."]
    words.append(
        f"Reckon with {length_words(facts.depth_m, units)}; "
        f"one can stand {distance_words(facts.out_m, units)} out."
    )
    words.append(_ways(facts))
    return " ".join([*words, *_below(facts, hazards, settings, units, near_m)])


def odds_words(chance: float) -> str:
    """Return a chance as a person reads it, like ``under 1 in 500``.

    Examples
    --------
    >>> odds_words(0.002)
    'under 1 in 500'
    """
    return f"under 1 in {max(round(1 / max(chance, 1e-6)), 1)}"


def _closed_note(facts: ZoneFacts, hazards: Sequence[Hazard], units: UnitSystem) -> str:
    """Return why a zone is out of bounds."""
    if facts.cut_share > 0.5:
        return "Shallow and slow enough, but no way leads to it on foot: out of bounds."
    words = ["Too deep, too quick or both: stay out."]
    if 0 <= facts.hazard < len(hazards) and facts.hazard_m == 0:
        words.append(f"Here: {hazard_words(hazards[facts.hazard])}.")
    elif facts.hazard >= 0:
        words.append(
            f"Below: {hazard_words(hazards[facts.hazard])} "
            f"{distance_words(facts.hazard_m, units)} down the current."
        )
    return " ".join(words)


def _ways(facts: ZoneFacts) -> str:
    """Return where one gets in and out."""
    if not facts.banks:
        return "In and out only through other water: no ground beside it."
    ground = list_words(list(facts.banks))
    if facts.bank_share >= ALONG_SHARE:
        return f"In and out all along, from {ground}."
    return f"In and out only {facts.bank_at}, from {ground}."


def _below(
    facts: ZoneFacts,
    hazards: Sequence[Hazard],
    settings: WadingSettings,
    units: UnitSystem,
    near_m: float,
) -> list[str]:
    """Return what lies down the current; absence is said only of what was looked at."""
    words = []
    within = distance_words(settings.below_m, units)
    if facts.hazard >= 0:
        words.append(
            f"Below: {hazard_words(hazards[facts.hazard])} "
            f"{distance_words(facts.hazard_m, units)} down the current."
        )
    if facts.deep_share > 0.5:
        words.append(f"The current leads into water out of bounds within {within}.")
    elif facts.deep_share > 0:
        words.append("From its outer part the current leads into water out of bounds.")
    if facts.lost:
        words.append("It also leads into water nobody knows, or off the map.")
    if facts.hazard < 0 and near_m <= settings.below_m:
        words.append(f"A hazard is drawn {distance_words(max(near_m, 1.0), units)} off.")
    if not words:
        words.append(f"Nothing drawn lies below within {within}: look for yourself.")
    return words


def hazard_words(hazard: Hazard) -> str:
    """Return a hazard's kind, and the angler's note on it."""
    kind = hazard.kind.value
    return f"{kind} ({hazard.note})" if hazard.note else kind


def _along(station: FloatArray, inside: BoolArray, shore: BoolArray) -> tuple[float, str]:
    """Return the share of a zone's length that touches ground, and in words where it does."""
    all_along, on_shore = station[inside], station[shore]
    all_along, on_shore = all_along[np.isfinite(all_along)], on_shore[np.isfinite(on_shore)]
    if not all_along.size or not on_shore.size:
        return 0.0, "nowhere"
    low, high = float(all_along.min()), float(all_along.max())
    bins = max(int((high - low) / 5.0), 1)
    edges = np.linspace(low, high + 1e-6, bins + 1)
    share = float((np.histogram(on_shore, edges)[0] > 0).mean())
    middle = (float(np.median(on_shore)) - low) / max(high - low, 1e-6)
    where = "at its upper end" if middle < 0.35 else "at its lower end"
    return share, "about its middle" if 0.35 <= middle <= 0.65 else where


def _most(values: FloatArray) -> float:
    """Return the largest known value; NaN where none is."""
    known = values[np.isfinite(values)]
    return float(known.max()) if known.size else float("nan")
