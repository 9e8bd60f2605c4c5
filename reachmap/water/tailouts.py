"""Tailouts: where a pool's bed rises to its lip and the water quickens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.base.words import Side
from reachmap.water.field import WaterField
from reachmap.water.known_bed import known_bed
from reachmap.water.settings import TailoutSettings
from reachmap.water.thalwegs import Thalweg


def residual_depth(bed: FloatArray) -> FloatArray:
    """Return how deep each place lies below the highest bed downstream of it [m].

    Parameters
    ----------
    bed
        Bed heights along the thalweg, downstream [m], shape (n,); no NaN.

    Notes
    -----
    The difference in bed height between a pool and the riffle crest below it; the same at every
    flow [1]_. The water left standing if the river stopped.

    References
    ----------
    .. [1] Lisle (1987), Using "residual depths" to monitor pool depths independently of discharge,
       USDA Forest Service Research Note PSW-394.
    """
    # The highest bed from each place on down: a running maximum from the lower end.
    crest = np.maximum.accumulate(bed[::-1])[::-1]
    return np.asarray(crest - bed)


@dataclass(frozen=True, slots=True)
class Pool:
    """A pool of a profile, as indices: its head, its deepest place, its lip (the crest below)."""

    head: int
    deepest: int
    lip: int
    residual_m: float


def find_pools(
    along: FloatArray, bed: FloatArray, residual_low: float, length_low: float
) -> list[Pool]:
    """Return the pools of a bed profile, downstream.

    Parameters
    ----------
    along, bed
        Distance downstream and bed height [m], shape (n,); no NaN.
    residual_low
        Least residual depth of a pool [m].
    length_low
        Least distance from its head to its lip [m].

    Notes
    -----
    A pool whose crest is the profile's very last place is left out: its lip lies off the map.
    """
    residual = residual_depth(bed)
    under = np.r_[False, residual > 1e-9, False]
    heads, lips = np.flatnonzero(under[1:] & ~under[:-1]), np.flatnonzero(under[:-1] & ~under[1:])
    pools = []
    for head, lip in zip(heads, lips, strict=True):
        if lip >= bed.size - 1:
            continue
        deepest = int(head + np.argmax(residual[head:lip]))
        depth = float(residual[deepest])
        if depth >= residual_low and along[lip] - along[head] >= length_low:
            pools.append(Pool(int(head), deepest, int(lip), depth))
    return pools


@dataclass(frozen=True, slots=True)
class Tailout:
    """A tailout on a thalweg: indices of its start and lip, and what runs there."""

    thalweg: Thalweg
    start: int
    lip: int
    residual_m: float
    start_depth_m: float
    start_speed_m_s: float
    lip_depth_m: float
    lip_speed_m_s: float
    walking_side: Side


def tailout_start(
    along: FloatArray,
    depth: FloatArray,
    speed: FloatArray,
    pool: Pool,
    length_high: float,
    turn_share: float,
) -> int:
    """Return where a pool's tailout starts: up from the lip as far as it shoals and quickens.

    Going up from the lip while depth grows and speed falls, no farther than the deepest place or
    `length_high` [m]; turns of `turn_share` or less do not end it.
    """
    i = pool.lip
    best_depth, best_speed, best = depth[i], speed[i], i
    while i > pool.deepest and along[pool.lip] - along[i] < length_high:
        i -= 1
        if depth[i] >= best_depth and speed[i] <= best_speed:
            best, best_depth, best_speed = i, depth[i], speed[i]
        elif depth[i] < (1 - turn_share) * best_depth or speed[i] > (1 + turn_share) * best_speed:
            break
    return best


def find_tailouts(
    field: WaterField, thalwegs: list[Thalweg], settings: TailoutSettings
) -> list[Tailout]:
    """Return the tailouts of every channel, downstream along each thalweg.

    Only where the bed, or the level profile over it, is known from pool to lip (see `known_bed`).
    """
    found: list[Tailout] = []
    for thalweg in thalwegs:
        for piece in _known_pieces(thalweg):
            found += _on_piece(field, thalweg, piece, settings)
    return found


def _known_pieces(thalweg: Thalweg) -> list[slice]:
    """Return the stretches of a thalweg where bed, depth and speed are all known."""
    known = np.isfinite(thalweg.bed) & np.isfinite(thalweg.depth) & np.isfinite(thalweg.speed)
    edges = np.flatnonzero(np.diff(np.r_[False, known, False].astype(int)))
    return [
        slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 5
    ]


def _on_piece(
    field: WaterField, thalweg: Thalweg, piece: slice, settings: TailoutSettings
) -> list[Tailout]:
    """Return the tailouts on one known stretch of a thalweg."""
    along = thalweg.along[piece]
    even = np.linspace(along[0], along[-1], max(int((along[-1] - along[0]) / field.grid.cell), 5))
    sigma = settings.smoothing_widths * thalweg.width / max(even[1] - even[0], 1e-6) / 2

    def smooth(values: FloatArray) -> FloatArray:
        return np.interp(
            along,
            even,
            gaussian_filter1d(np.interp(even, along, values[piece]), sigma, mode="nearest"),
        )

    bed, depth, speed = smooth(thalweg.bed), smooth(thalweg.depth), smooth(thalweg.speed)
    found = []
    known = known_bed(
        field.confidence.of_cells(thalweg.rows[piece], thalweg.cols[piece]),
        settings,
        levelled=field.levelled,
    )
    for pool in find_pools(
        along, bed, settings.residual_low_m, settings.pool_length_widths * thalweg.width
    ):
        if known[pool.deepest : pool.lip + 1].mean() < settings.known_share:
            continue
        if pool_span(field, thalweg, piece, pool, float(bed[pool.lip])) < settings.span_low:
            continue
        longest = settings.length_high_widths * thalweg.width
        start = tailout_start(along, depth, speed, pool, longest, settings.turn_share)
        froude = speed[pool.lip] / np.sqrt(GRAVITY * max(depth[pool.lip], 1e-3))
        quick = speed[pool.lip] / max(speed[start], 1e-3)
        gain = speed[pool.lip] - speed[start]
        if start >= pool.lip - 1 or quick < settings.quickening_low:
            continue
        if gain < settings.quickening_low_m_s:
            continue
        if speed[start] / np.sqrt(GRAVITY * max(depth[start], 1e-3)) > settings.froude_high:
            continue
        lip = pool.lip
        if froude > settings.froude_high:
            over = speed[start : lip + 1] / np.sqrt(
                GRAVITY * np.maximum(depth[start : lip + 1], 1e-3)
            )
            # The lip is a riffle already: what one can stand
            # in ends where the Froude number first passes.
            lip = start + max(int(np.argmax(over > settings.froude_high)), 2)
        cells = slice(piece.start + start, piece.start + lip + 1)
        found.append(
            Tailout(
                thalweg=thalweg,
                start=piece.start + start,
                lip=piece.start + pool.lip,
                residual_m=pool.residual_m,
                start_depth_m=float(depth[start]),
                start_speed_m_s=float(speed[start]),
                lip_depth_m=float(depth[pool.lip]),
                lip_speed_m_s=float(speed[pool.lip]),
                walking_side=walking_side(
                    field, thalweg, cells, settings.walk_low_m_s, settings.walk_high_m_s
                ),
            )
        )
    return found


def pool_span(
    field: WaterField, thalweg: Thalweg, piece: slice, pool: Pool, lip_bed: float
) -> float:
    """Return the share of the water's width, at a pool's deepest place, whose bed is below its lip.

    A lip is read on one line. Where the bed beside the thalweg is as high as the lip all the way,
    the pool is a hollow that the river runs around: a bucket, whose own rim is no tailout.

    Parameters
    ----------
    field, thalweg
        The flow and the line.
    piece
        Its known stretch, of which `pool` holds indices.
    pool
        The pool.
    lip_bed
        Height of its lip [m].
    """
    at = piece.start + pool.deepest
    here = thalweg.rows[at : at + 1], thalweg.cols[at : at + 1]
    station, middle, right, left = (
        float(one.of_cells(*here)[0])
        for one in (field.station, field.offset, field.gap_right, field.gap_left)
    )
    reach = 2 * field.grid.cell
    rows, cols = field.between(station - reach, station + reach)
    offset = field.offset[rows, cols]
    own = (offset >= middle - right) & (offset <= middle + left)  # another channel lies beyond
    rows, cols = rows[own], cols[own]
    if not rows.size:
        return 0.0
    return float((field.level[rows, cols] - field.depth[rows, cols] < lip_bed).mean())


def walking_side(
    field: WaterField, thalweg: Thalweg, cells: slice, low: float, high: float
) -> Side:
    """Return the side of the thalweg with more water of a walking pace.

    Parameters
    ----------
    low, high
        Speeds of a slow and a brisk walk [m/s].
    """
    stations = thalweg.station[cells]
    if not np.isfinite(stations).any():
        return Side.LEFT
    within = field.between(float(np.nanmin(stations)), float(np.nanmax(stations)))
    speed = field.speed[within]
    pace = (speed >= low) & (speed <= high)
    # np.interp wants rising stations, and a thalweg may step back on itself.
    middle = np.interp(
        field.station[within][pace],
        np.sort(stations),
        field.offset[thalweg.rows[cells], thalweg.cols[cells]][np.argsort(stations)],
    )
    left = int((field.offset[within][pace] > middle).sum())
    return Side.LEFT if 2 * left >= int(pace.sum()) else Side.RIGHT
