"""Wading grades for one person on foot, cell by cell; where uncertain, the worse grade."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from reachmap.angler.chance import Water, chance_beyond, expected_water, smoothed_chance
from reachmap.angler.drift import Drift, drift_below
from reachmap.angler.hazards import hazard_mask
from reachmap.angler.odds import easy_allowed, gradable, observed_chance
from reachmap.angler.rules import WadeLimit, strictest
from reachmap.angler.steps import below_ledges
from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.packed import PackedRaster, merged
from reachmap.base.patches import joined_to, patch_sizes
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

    `grade` holds the codes above; `depth` and `speed` are those to reckon with, nine times of ten
    no more [m, m/s]; `cut` marks water shallow and slow enough to which no way leads on foot.
    """

    grade: CodeArray
    depth: PackedRaster
    speed: PackedRaster
    cut: BoolArray
    drift: Drift
    limit: WadeLimit


def limit_for(angler: Angler, settings: WadingSettings) -> WadeLimit:
    """Return the limits of this person: the published rules' and their own, whichever is less."""
    own = settings.own
    rule = strictest(settings.rules, angler.height_m, body_mass(angler, settings))
    depth = min(rule.depth_m, angler.wade_limit_m, settings.depth_share_high * angler.height_m)
    return WadeLimit(
        min(rule.product_m2_s, own.product_m2_s),
        min(depth, own.depth_m),
        min(rule.speed_m_s, own.speed_m_s),
    )


def body_mass(angler: Angler, settings: WadingSettings) -> float:
    """Return the body mass given, or that of a light build of this height [kg]."""
    if math.isnan(settings.mass_kg):
        return settings.mass_per_height2 * angler.height_m**2
    return settings.mass_kg


def raw_chance(view: View, water: Water, limit: WadeLimit, settings: WadingSettings) -> FloatArray:
    """Return the chance of being beyond the limits, averaged over a stride or two.

    Of the wet cells, shape (n,), as `water` is; NaN where depth or speed are not known.
    """
    raw = np.where(_known(view), chance_beyond(water, limit, settings.correlation), np.nan)
    return smoothed_chance(view, raw, settings.smooth_m)


def _known(view: View) -> BoolArray:
    """Return the wet cells of known depth and speed, shape (n,)."""
    depth, speed = view.depth[view.wet_cells], view.speed[view.wet_cells]
    return np.asarray(np.isfinite(depth) & np.isfinite(speed))


def limit_ratio(depth: FloatArray, speed: FloatArray, limit: WadeLimit) -> FloatArray:
    """Return the largest of depth, speed and product over what is allowed of each; 1 is the limit.

    Parameters
    ----------
    depth, speed
        Of the water [m, m/s]; NaN stays NaN.
    limit
        The most that is allowed.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(
            np.maximum(
                np.maximum(depth / limit.depth_m, speed / limit.speed_m_s),
                depth * speed / limit.product_m2_s,
            )
        )


def grade_water(
    view: View, hazards: tuple[Hazard, ...], angler: Angler, settings: WadingSettings
) -> Wading:
    """Return the graded water at one flow.

    A cell is graded by its chance of being beyond this person's limits, averaged over a stride or
    two and mapped to what was observed on rivers of its kind. Water that may not be graded at all
    (`odds.gradable`) is unknown. Drawn hazards, water that drifts into one close by and water deep
    in brush are out of bounds; what no water of the same or a better grade joins to a bank is not
    waded; patches too small to stand in take the next worse grade.
    """
    limit = limit_for(angler, settings)
    grade, reckoned, drift = _graded(view, hazards, limit, settings)
    cells = np.ravel_multi_index(view.wet_cells, view.wet.shape).astype(np.int32)
    deeper, quicker = (_held(view.wet.shape, cells, one) for one in reckoned)
    return _waded(view, grade, settings, (deeper, quicker), drift, limit)


def _held(shape: tuple[int, ...], cells: IntArray, values: FloatArray) -> PackedRaster:
    """Return values of cells of the flattened raster as a raster, NaN elsewhere."""
    rows, cols = shape
    return PackedRaster((rows, cols), np.array(np.nan), cells, values)


class Graded(NamedTuple):
    """Graded water of one flow in compact form: grades (y, x), and of its wet cells what they bear.

    `cells` are their rows and columns, `depth` and `speed` those to reckon with [m, m/s], (n,).
    """

    grade: CodeArray
    cells: tuple[IntArray, IntArray]
    depth: FloatArray
    speed: FloatArray


def as_graded(wading: Wading) -> Graded:
    """Return what `graded_water` would of the same flow."""
    rows, cols = (
        at.astype(np.int32) for at in np.divmod(wading.depth.cells, wading.grade.shape[1])
    )
    return Graded(wading.grade, (rows, cols), wading.depth.values, wading.speed.values)


def graded_water(
    view: View, hazards: tuple[Hazard, ...], angler: Angler, settings: WadingSettings
) -> Graded:
    """Return the grades of `grade_water`, without the rest of it."""
    grade, reckoned, _ = _graded(view, hazards, limit_for(angler, settings), settings)
    grade = drop_small(grade, settings.zone_low_m2 / view.cell**2)
    return Graded(join_to_land(grade, view.land, view.dry), view.wet_cells, *reckoned)


def _graded(
    view: View, hazards: tuple[Hazard, ...], limit: WadeLimit, settings: WadingSettings
) -> tuple[CodeArray, tuple[FloatArray, FloatArray], Drift]:
    """Return the grade of each cell by itself, and depth and speed to reckon with and the drift.

    The grade has the shape (y, x); depth [m] and speed [m/s] are those of the wet cells, (n,).
    """
    cells = view.wet_cells
    brushy = np.isin(view.cover[cells], BRUSHY)
    mapped = view.speed[cells] * np.where(brushy, settings.brush_slowing_high, 1.0)
    water = expected_water(view, mapped, settings)
    grade = by_chance(view, water, limit, settings)
    below = below_ledges(view, hazards, settings, cells)
    grade[cells[0][below], cells[1][below]] = UNKNOWN
    deep = water.depth + np.minimum(settings.reckoned * water.depth_error, settings.margin_high_m)
    quick = water.speed + settings.reckoned * water.speed_error
    danger = hazard_mask(view, hazards, settings.hazard_reach_m)
    drift = drift_below(view, grade >= NO, hazards, settings)
    out = danger[cells] | (drift.hazard_m.values <= settings.drift_high_m)
    out |= brushy & (deep > settings.brush_depth_high_m)
    code = grade[cells]
    code[out & (code != UNKNOWN)] = NO
    code[brushy & (code == EASY)] = CAREFUL
    grade[cells] = code
    return grade, (deep, quick), drift


def stricter_of(
    view: View, wading: Wading, others: Iterable[Graded], settings: WadingSettings
) -> Wading:
    """Return the grading with the worst grade of all in each cell that is under water in both.

    Parameters
    ----------
    view
        The flow that is graded.
    wading
        Its grading.
    others
        Gradings of other flows on the same raster, as of the solved flows on either side of an
        interpolated one. A cell that is dry at another flow keeps its own grade.
    settings
        Least size of a patch.
    """
    grade, deeper, quicker = wading.grade.copy(), wading.depth, wading.speed
    for other in others:
        np.maximum(grade, other.grade, out=grade, where=(grade != NONE) & (other.grade != NONE))
        wet = (grade[other.cells] != NONE) & (other.grade[other.cells] != NONE)
        there = np.ravel_multi_index(other.cells, grade.shape)[wet]
        cells = merged(deeper.cells, there)
        deeper, quicker = (
            _held(
                grade.shape,
                cells,
                np.fmax(mine.at(cells), _held(grade.shape, there, its).at(cells)),
            )
            for mine, its in ((deeper, other.depth[wet]), (quicker, other.speed[wet]))
        )
    found = _waded(view, grade, settings, (deeper, quicker), wading.drift, wading.limit)
    return replace(found, cut=found.cut | wading.cut)


def _waded(
    view: View,
    grade: CodeArray,
    settings: WadingSettings,
    reckoned: tuple[PackedRaster, PackedRaster],
    drift: Drift,
    limit: WadeLimit,
) -> Wading:
    """Return the grading after small patches and water that no way leads to are taken out."""
    grade = drop_small(grade, settings.zone_low_m2 / view.cell**2)
    joined = join_to_land(grade, view.land, view.dry)
    cut = (grade <= CAREFUL) & (grade != NONE) & (joined == NO)
    return Wading(joined, *reckoned, cut, drift, limit)


def by_chance(view: View, water: Water, limit: WadeLimit, settings: WadingSettings) -> CodeArray:
    """Return the grade of each cell by its chance of being beyond the limits, shape (y, x)."""
    cells = view.wet_cells
    raw = raw_chance(view, water, limit, settings)
    chance = observed_chance(raw, view, settings, cells)
    code = np.full(chance.shape, NO, dtype=np.uint8)
    with np.errstate(invalid="ignore"):
        code[chance <= settings.careful_chance] = CAREFUL
        easy = chance <= min(settings.easy_chance, settings.careful_chance)
        easy &= limit_ratio(water.depth, water.speed, limit) <= settings.easy_share
    if easy_allowed(view):
        code[easy] = EASY
    code[~(_known(view) & gradable(view, settings, cells))] = UNKNOWN
    grade = view.unknown.astype(np.uint8) * np.uint8(UNKNOWN)
    grade[cells] = code
    return grade


def join_to_land(grade: CodeArray, land: BoolArray, dry: BoolArray) -> CodeArray:
    """Return the grade limited by whether the water can be reached on foot.

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
    easy = joined_to(land, land | dry | (grade == EASY))
    careful = joined_to(land, land | dry | (grade == EASY) | (grade == CAREFUL))
    shallow = (grade == EASY) | (grade == CAREFUL)
    result[shallow & ~careful] = NO
    result[(grade == EASY) & ~easy & careful] = CAREFUL
    return result


def reachable_ground(grade: CodeArray, land: BoolArray, dry: BoolArray) -> BoolArray:
    """Return the dry ground and waded water one can get to on foot from land."""
    return joined_to(land, land | dry | (grade == EASY) | (grade == CAREFUL))


def drop_small(grade: CodeArray, cells_low: float) -> CodeArray:
    """Return the grade with patches of fewer than `cells_low` cells given the next worse one.

    A patch is water of a grade or better, side by side; so a rim too thin to stand in goes too.
    """
    result = grade.copy()
    for better, worse in ((EASY, CAREFUL), (CAREFUL, NO)):
        open_to = (result >= EASY) & (result <= better)
        result[(patch_sizes(open_to) < cells_low) & (result == better)] = worse
    return result
