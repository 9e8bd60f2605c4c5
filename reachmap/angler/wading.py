"""How water grades for one person on foot, cell by cell, in doubt on the dry side."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from reachmap.angler.drift import Drift, drift_below
from reachmap.angler.hazards import hazard_mask
from reachmap.angler.rules import WadeLimit, strictest
from reachmap.angler.settings import WadingSettings
from reachmap.angler.view import FOUR, View
from reachmap.base.shapes import B1, F8, U1
from reachmap.base.words import COVER_CODES, Cover, WadeGrade
from reachmap.markup.kit import Angler
from reachmap.markup.model import Hazard

NONE, EASY, CAREFUL, NO, UNKNOWN = 0, 1, 2, 3, 4
"""Codes of a grade raster; NONE is ground that is not under water."""

BRUSHY = (COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.TREES])
"""Cover that holds what the current carries."""

GRADES = {
    EASY: WadeGrade.EASY,
    CAREFUL: WadeGrade.CAREFUL,
    NO: WadeGrade.NO,
    UNKNOWN: WadeGrade.UNKNOWN,
}


@dataclass(frozen=True, slots=True)
class Wading:
    """The graded water at one flow, arrays (y, x).

    `grade` holds the codes above; `depth` and `speed` are those the grade was given for, with the
    doubt in them [m, m/s]; `cut` marks water shallow and slow enough to which no way leads on foot;
    `out_m` is the distance from the nearest ground one may step on [m].
    """

    grade: U1
    depth: F8
    speed: F8
    cut: B1
    out_m: F8
    drift: Drift
    limit: WadeLimit


def doubtful_depth(
    depth: F8, confidence: F8, settings: WadingSettings, spread: F8 | float = 0.0
) -> F8:
    """Return the depth to reckon with [m]: deeper the less the bed is known.

    Parameters
    ----------
    depth
        Depth of the map [m]; NaN stays NaN.
    confidence
        How well the bed is known, 0 to 1; NaN makes the depth unknown.
    settings
        Errors of the bed by confidence, and how many of them to allow for.
    spread
        Standard deviation of the depth over the ensemble [m]: the greater of the two errors counts.
    """
    known, size = np.array(settings.bed_errors).T
    error = np.maximum(np.interp(np.nan_to_num(confidence), known, size), spread)
    rim = settings.shallow_error_m + settings.shallow_error_share * np.nan_to_num(depth)
    error = np.where(np.isnan(confidence), np.nan, np.minimum(error, rim))
    return np.asarray(depth + settings.doubt * error)


def deepest_near(view: View, settings: WadingSettings) -> F8:
    """Return the depth [m]: the deepest within `place_error_m` where the bed is a guess."""
    reach = settings.place_error_m / view.cell
    size = int(reach)
    if size < 1:
        return view.depth
    rows, cols = np.mgrid[-size : size + 1, -size : size + 1]
    near = np.hypot(rows, cols) <= reach
    deepest = ndimage.maximum_filter(np.where(view.wet, view.depth, -np.inf), footprint=near)
    with np.errstate(invalid="ignore"):
        guessed = view.wet & ~(view.confidence >= settings.seen_confidence)
    return np.where(guessed, deepest, view.depth)


def doubtful_speed(
    speed: F8, depth: F8, deeper: F8, settings: WadingSettings, spread: F8 | float = 0.0
) -> F8:
    """Return the speed to reckon with [m/s]: water that is deeper than thought also runs quicker.

    `spread` is the standard deviation of the speed over the ensemble [m/s].

    Notes
    -----
    Speed grows as depth to the 2/3 at the same slope and roughness (Manning's formula), and by
    `speed_doubt` on top; or the speed and `doubt` times its spread, whichever is the quicker.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        quicker = (deeper / depth) ** (2 / 3)
    by_depth = speed * np.minimum(quicker, 3.0) * (1 + settings.speed_doubt)
    return np.asarray(np.maximum(by_depth, speed + settings.doubt * spread))


def limit_for(angler: Angler, settings: WadingSettings) -> WadeLimit:
    """Return the limits of this person: the published rules' and their own, whichever is less."""
    mass, own = settings.mass_kg, settings.own
    if math.isnan(mass):
        mass = settings.mass_per_height2 * angler.height_m**2
    rule = strictest(settings.rules, angler.height_m, mass)
    depth = min(rule.depth_m, angler.wade_limit_m, settings.depth_share_high * angler.height_m)
    return WadeLimit(
        min(rule.product_m2_s, own.product_m2_s),
        min(depth, own.depth_m),
        min(rule.speed_m_s, own.speed_m_s),
    )


def grade_cells(depth: F8, speed: F8, limit: WadeLimit, easy_share: float) -> U1:
    """Return the grade of each cell by depth, speed and their product alone.

    Parameters
    ----------
    depth, speed
        What to reckon with [m, m/s]; NaN is unknown, and graded so.
    limit
        The most that is allowed.
    easy_share
        Share of each limit that still counts as easy, 0 to 1.
    """
    with np.errstate(invalid="ignore"):
        strain = np.maximum(
            np.maximum(depth / limit.depth_m, speed / limit.speed_m_s),
            depth * speed / limit.product_m2_s,
        )
    grade = np.where(strain <= easy_share, EASY, np.where(strain <= 1, CAREFUL, NO))
    return np.where(np.isfinite(strain), grade, UNKNOWN).astype(np.uint8)


def grade_water(
    view: View, hazards: tuple[Hazard, ...], angler: Angler, settings: WadingSettings
) -> Wading:
    """Return the graded water at one flow.

    A cell is graded by depth, speed and product with the doubt in them; drawn hazards, water that
    drifts into one close by and water deep in brush are out of bounds; what no water of the same or
    a better grade
    joins to a bank is not waded; patches too small to stand in take the next worse grade.
    """
    limit = limit_for(angler, settings)
    spread = view.depth_spread
    deeper = doubtful_depth(deepest_near(view, settings), view.confidence, settings, spread)
    brushy = np.isin(view.cover, BRUSHY)
    mapped = view.speed * np.where(brushy, settings.brush_slowing_high, 1.0)
    here = doubtful_depth(view.depth, view.confidence, settings, spread)
    quicker = doubtful_speed(mapped, view.depth, here, settings, view.speed_spread)
    with np.errstate(invalid="ignore"):
        sure = view.confidence >= settings.unsure_low
    known = view.wet & sure
    grade = grade_cells(
        np.where(known, deeper, np.nan),
        np.where(known, quicker, np.nan),
        limit,
        settings.easy_share,
    )
    grade[~view.wet] = np.where(view.unknown[~view.wet], UNKNOWN, NONE)
    danger = hazard_mask(view, hazards, settings.hazard_reach_m)
    drift = drift_below(view, grade >= NO, hazards, settings)
    with np.errstate(invalid="ignore"):
        swept = drift.hazard_m <= settings.drift_high_m
    with np.errstate(invalid="ignore"):
        held = brushy & (deeper > settings.brush_depth_high_m)
    grade[view.wet & (danger | swept | held) & (grade != UNKNOWN)] = NO
    grade[brushy & (grade == EASY)] = CAREFUL
    grade = drop_small(grade, settings.zone_low_m2 / view.cell**2)
    joined = join_to_land(grade, view.land, view.dry)
    cut = (grade <= CAREFUL) & (grade != NONE) & (joined == NO)
    return Wading(joined, deeper, quicker, cut, _out(joined, view), drift, limit)


def join_to_land(grade: U1, land: B1, dry: B1) -> U1:
    """Return the grade after asking whether one can get there on foot.

    Parameters
    ----------
    grade
        Codes, shape (y, x).
    land
        Ground one reaches without getting wet.
    dry
        All dry ground, islands and bars too.

    Notes
    -----
    Easy water counts if a chain of easy water and dry ground, side by side, joins it to land;
    careful water if a chain of careful or easier water does. Easy water behind careful water is
    careful; what no chain joins is `no`.
    """
    result = grade.copy()
    easy = _grown(land, dry | (grade == EASY))
    careful = _grown(land, dry | (grade == EASY) | (grade == CAREFUL))
    shallow = (grade == EASY) | (grade == CAREFUL)
    result[shallow & ~careful] = NO
    result[(grade == EASY) & ~easy & careful] = CAREFUL
    return result


def reachable_ground(grade: U1, land: B1, dry: B1) -> B1:
    """Return the dry ground and waded water one can get to on foot from land."""
    return _grown(land, dry | (grade == EASY) | (grade == CAREFUL))


def drop_small(grade: U1, cells_low: float) -> U1:
    """Return the grade with patches of fewer than `cells_low` cells given the next worse one.

    A patch is water of a grade or better, side by side; so a rim too thin to stand in goes too.
    """
    result = grade.copy()
    for better, worse in ((EASY, CAREFUL), (CAREFUL, NO)):
        open_to = (result >= EASY) & (result <= better)
        labels, count = ndimage.label(open_to, FOUR)
        size = np.bincount(labels.ravel(), minlength=count + 1)
        small = size[labels] < cells_low
        result[small & (result == better)] = worse
    return result


def _grown(seed: B1, through: B1) -> B1:
    """Return the cells of `through` that side-by-side steps join to `seed`."""
    labels, count = ndimage.label(through | seed, FOUR)
    hit = np.zeros(count + 1, dtype=bool)
    hit[np.unique(labels[seed])] = True
    hit[0] = False
    return np.asarray(hit[labels])


def _out(grade: U1, view: View) -> F8:
    """Return the distance of waded water from ground one can step on [m]; NaN elsewhere."""
    waded = (grade == EASY) | (grade == CAREFUL)
    if not waded.any() or not view.dry.any():
        return np.full(grade.shape, np.nan)
    far = ndimage.distance_transform_edt(~view.dry) * view.cell - view.cell / 2
    return np.where(waded, far, np.nan)
