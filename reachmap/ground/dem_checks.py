"""Checks of a DEM against the drawing before it is used: position, unit, coverage, fall."""

from __future__ import annotations

import numpy as np
from scipy import fft
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.base.units import FOOT_M
from reachmap.ground.bed import Bed
from reachmap.ground.layout import Layout
from reachmap.ground.low_water import LowWater
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup
from reachmap.markup.places import length_words

SEARCH_M = 120.0
"""How far a DEM may lie beside the drawing and still be found [m] (our choice)."""

COARSE_CELLS = 2
"""Cells a side put together for the search, at least."""

SEARCH_BLOCKS = 400_000
"""About how many blocks a search may have: keeps a long river's within a second or two."""

CLIP_M = 2.0
"""Heights above the river are clipped at this: higher ground adds no information [m]."""

GAIN = 0.08
"""How much better the drawing must fit the moved DEM before that is believed, as a share of
the standard deviation explained (our choice)."""

FAR_COST = 2e-4
"""Fit a shift must gain for each metre [1/m], so that a straight river stays put along itself."""

OFF_WIDTHS, NOTED_WIDTHS = 0.5, 0.25
"""Shifts of more than these shares of the width stop the build, or are noted (our choice)."""

COVERED = 0.5
"""Least share of the drawn channel and banks that a DEM must know (our choice)."""


def misplaced(layout: Layout, seen: FloatArray) -> tuple[float, float, float]:
    """Return how far east and north the DEM seems to lie of the drawing [m], and the gain in fit.

    The drawn water is low ground and the drawn banks are higher: the shift is the one at which the
    DEM's height above its own low line, correlated with the drawing (water -1, banks +1), is best.
    All shifts are tried at once by fast convolution. (0, 0, 0) where none is better.

    Parameters
    ----------
    layout
        The drawing laid out.
    seen
        The DEM at the cells [m], NaN where it does not know.
    """
    drawn = np.where(layout.water, -1.0, np.where(layout.bank > 0, 1.0, 0.0))
    relative = _above_own_river(layout, seen)
    rows, cols = layout.corridor.grid.shape
    side = max(COARSE_CELLS, round(np.sqrt(rows * cols / SEARCH_BLOCKS)))
    pattern, weight, height, known = (
        _coarse(layout, values.astype(np.float64), side)
        for values in (drawn, drawn != 0, np.nan_to_num(relative), np.isfinite(relative))
    )
    step = side * layout.corridor.grid.cell
    reach = round(SEARCH_M / step)
    fit = _correlations(pattern, weight, height, known, reach)
    if not np.isfinite(fit).any():
        return 0.0, 0.0, 0.0
    far = np.hypot(*np.ogrid[-reach : reach + 1, -reach : reach + 1]) * step
    row, col = np.unravel_index(int(np.nanargmax(fit - FAR_COST * far)), fit.shape)
    here = fit[reach, reach]
    gain = float(fit[row, col] - (here if np.isfinite(here) else -1.0))
    return float((col - reach) * step), float((reach - row) * step), gain


def _above_own_river(layout: Layout, seen: FloatArray) -> FloatArray:
    """Return heights above the lowest ground of each stretch of river, clipped [m]."""
    main = layout.main
    count = max(int(main.line.length / main.median_width), 2)
    edges = np.linspace(0, main.line.length, count + 1)
    which = np.digitize(layout.main_station, edges).clip(1, count) - 1
    low = np.full(count, np.nan)
    for number in range(count):
        heights = seen[(which == number) & np.isfinite(seen)]
        if heights.size:
            low[number] = np.percentile(heights, 5)
    known = np.flatnonzero(np.isfinite(low))
    if not known.size:
        return np.full(seen.shape, np.nan)
    calm = gaussian_filter1d(np.interp(np.arange(count), known, low[known]), 1.0, mode="nearest")
    middle = (edges[1:] + edges[:-1]) / 2
    return np.clip(seen - np.interp(layout.main_station, middle, calm), 0, CLIP_M)


def _coarse(layout: Layout, values: FloatArray, side: int) -> FloatArray:
    """Return the cells' values summed in blocks of `side` cells a side."""
    grid = layout.corridor.grid
    rows, cols = (-(-size // side) for size in grid.shape)
    block = (layout.corridor.row // side) * cols + layout.corridor.col // side
    summed = np.bincount(block, values, rows * cols).astype(np.float64)
    return summed.reshape(rows, cols)


def _correlations(
    pattern: FloatArray, weight: FloatArray, height: FloatArray, known: FloatArray, reach: int
) -> FloatArray:
    """Return the weighted correlation of pattern and height at every shift up to `reach`."""
    lags = 2 * reach + 1
    whole = [fft.next_fast_len(2 * (n + reach) - 1, real=True) for n in pattern.shape]

    def shifted(fixed: FloatArray, moved: FloatArray) -> FloatArray:
        # as scipy.signal.fftconvolve(mode="valid"), whose package takes long to load
        one, other = np.pad(moved, reach), fixed[::-1, ::-1]
        full = fft.irfft2(fft.rfft2(one, whole) * fft.rfft2(other, whole), whole)
        rows, cols = (n - 1 for n in fixed.shape)
        return np.asarray(full[rows : rows + lags, cols : cols + lags])

    # Blocks hold sums over their cells: `weight` of the drawing's, `known` of the DEM's. Each
    # convolution is then a weighted sum over the overlap at every shift; a variance is the mean of
    # the blocks' means squared, less the square of the mean.
    total = np.maximum(shifted(weight, known), 1e-9)
    mean_p, mean_h = shifted(pattern, known) / total, shifted(weight, height) / total
    cross = shifted(pattern, height) / total - mean_p * mean_h
    square = known * np.divide(height, known, out=np.zeros_like(height), where=known > 0) ** 2
    spread_h = shifted(weight, square) / total - mean_h**2
    squared = weight * np.divide(pattern, weight, out=np.zeros_like(pattern), where=weight > 0) ** 2
    spread_p = shifted(squared, known) / total - mean_p**2
    size = np.sqrt(np.maximum(spread_h, 0) * np.maximum(spread_p, 0))
    enough = total > 0.3 * total.max()
    return np.where(enough & (size > 1e-9), cross / np.maximum(size, 1e-9), np.nan)


def dem_faults(layout: Layout, seen: FloatArray) -> tuple[list[Fault], list[GroundNote]]:
    """Return faults of a DEM that covers too little or lies off the drawing, and notes."""
    drawn = layout.along & (layout.water | (layout.bank > 0))
    share = float(np.isfinite(seen[drawn]).mean()) if drawn.any() else 0.0
    banks = drawn & ~layout.water
    on_banks = float(np.isfinite(seen[banks]).mean()) if banks.any() else share
    if on_banks < COVERED:
        found = f"it knows only {on_banks:.0%} of the drawn banks"
        fix = "Add the tiles that are missing, or take it out of the folder"
        return [Fault("DEM", found, fix)], []
    east, north, gain = misplaced(layout, seen)
    width, least = layout.main.median_width, 3 * layout.corridor.grid.cell
    off = float(np.hypot(east, north))
    if gain < GAIN or off <= max(NOTED_WIDTHS * width, least):
        return [], []
    towards = _compass(east, north)
    if off <= max(OFF_WIDTHS * width, least):
        return [], [GroundNote(GroundNoteKind.DEM_OFF, (off,), (towards,))]
    found = f"its river lies about {off:.0f} m {towards} of the drawn one"
    fix = "Check the CRS of the DEM and of the drawing, or move the one that is wrong"
    return [Fault("DEM", found, fix)], []


def _compass(east: float, north: float) -> str:
    """Return a direction in words."""
    words = (
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    )
    return words[round(np.degrees(np.arctan2(east, north)) / 45) % 8]


FEET_RATIO = (0.7, 1.4)
"""A ratio of slopes this near to that of foot and metre is taken for feet (our choice)."""


def height_faults(layout: Layout, low: LowWater, markup: Markup) -> list[Fault]:
    """Return what stands against the DEM's heights: feet for metres.

    That they do not fall is none: the angler's slope or levels rule then (see `ground.fall`).
    """
    if low.vertical != "dem":
        return []
    level = low.levels[0]
    slope = float(level[0] - level[-1]) / layout.main.line.length
    given = markup.plan.slope
    if not _falls_apart(layout, slope, given) or "dem" in markup.plan.accepted:
        return []
    for ratio, unit in ((1 / FOOT_M, "feet"), (FOOT_M, "metres")):
        if FEET_RATIO[0] < slope / given / ratio < FEET_RATIO[1]:
            found = (
                f"its water falls {slope:.4g} m a metre, {slope / given:.2g} times the slope in "
                f"reach.toml ({given:.4g})"
            )
            fix = f"Its heights seem to be in {unit}: set height_unit, or correct the slope"
            return [Fault("DEM", found, fix)]
    return []


def _falls_apart(layout: Layout, slope: float, given: float) -> bool:
    """Return whether the DEM's fall and the one in reach.toml differ by more than pools make."""
    if not np.isfinite(given) or given <= 0:
        return False
    return abs(slope - given) * layout.main.line.length > EvidenceSettings().fall_gap_m


UNKNOWN_BED = 0.2
"""Share of the bed beneath a DEM's water that may stay unknown (our choice, 0.1-0.3)."""


def high_water_faults(layout: Layout, low: LowWater, bed: Bed, traced: float) -> list[Fault]:
    """Return a fault where a DEM's water reaches so far that the bed beneath it is unknown.

    Parameters
    ----------
    layout
        The drawing laid out.
    low
        The lowest water, of the day the DEM was flown.
    bed
        Beneath it; NaN where the form of the bed does not reach.
    traced
        Flow at which the banks were traced [m3/s].
    """
    under = bed.under & layout.along
    drawn = int((layout.water & layout.along).sum())
    if low.how != "surface" or not under.any() or not drawn:
        return []
    unknown = float(np.isnan(bed.height[under]).mean())
    if unknown <= UNKNOWN_BED:
        return []
    found = (
        f"it was flown at high water: at {low.flow:.3g} m3/s it is wet over "
        f"{under.sum() / drawn:.1f} times the water drawn at {traced:.3g} m3/s, and {unknown:.0%} "
        "of the bed beneath stays unknown"
    )
    fix = "Give a DEM flown at lower water, or take it out; see that [dem] flow is that day's"
    return [Fault("DEM", found, fix)]


def height_notes(layout: Layout, low: LowWater, markup: Markup) -> list[str]:
    """Return where the DEM and other evidence differ, short of a fault."""
    notes: list[str] = []
    if low.vertical != "dem":
        return notes
    given, level = markup.plan.slope, low.levels[0]
    slope = float(level[0] - level[-1]) / layout.main.line.length
    factor, units = EvidenceSettings().fall_factor, markup.plan.units
    if _falls_apart(layout, slope, given) and not 1 / factor < slope / given < factor:
        length = layout.main.line.length
        notes.append(
            f"The DEM's water falls {slope:.4g} m a metre ({length_words(slope * length, units)} "
            f"over the reach); reach.toml says {given:.4g} "
            f"({length_words(given * length, units)}). "
            "The DEM is followed: correct slope or fall, or the DEM's height_unit."
        )
    if markup.levels:
        notes += _levels_against(layout, low, markup)
    return notes


def _levels_against(layout: Layout, low: LowWater, markup: Markup) -> list[str]:
    """Return a note where noted levels are far from the DEM's water."""
    x = np.array([one.place.x for one in markup.levels])
    y = np.array([one.place.y for one in markup.levels])
    station, _ = layout.main.line.to_station_offset(x, y)
    surface = np.interp(station, layout.main.line.station, low.levels[0])
    off = float(np.median(np.array([one.level_m for one in markup.levels]) - surface))
    if -0.5 < off < 3.0:
        return []
    return [
        f"The noted water levels stand {off:+.1f} m from the DEM's low water: another datum, or "
        "feet? They were set aside."
    ]
