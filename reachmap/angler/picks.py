"""From the casts that fit to the one to make: cast, rod, head, loop side and hand at each place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler.casts import CASTS, LoopSide
from reachmap.angler.clearance import FITS
from reachmap.angler.wind import clear_of_wind, natural_hand
from reachmap.base.shapes import F8, U1
from reachmap.base.words import Cast, CastFit
from reachmap.markup.kit import Kit

ORDER = tuple(CASTS)
NOT_A_D_LOOP = frozenset({Cast.STATIC_ROLL, Cast.OVERHEAD})
SUSTAINED = frozenset({Cast.PERRY_POKE, Cast.DOUBLE_SPEY, Cast.SNAP_T, Cast.CIRCLE_C})
"""Casts that lift a sinking tip to the surface first: common practice with sink tips and skagit
heads."""


@dataclass(frozen=True, slots=True)
class Pick:
    """What to do at one place: the cast, rod and head by their places in the table and the kit.

    `fits` and `tight` are the casts that have room with some rod and head; `unknown` whether some
    would only fit if what lies behind, unmapped, let them; `cast` is -1 where none has room.
    """

    cast: int
    rod: int
    head: int
    fit: CastFit
    fits: tuple[Cast, ...]
    tight: tuple[Cast, ...]
    unknown: bool
    loop: LoopSide
    natural: bool


def room_worth(fit: U1) -> F8:
    """Return how good the best D-loop cast is that has room: 1 fits, 0.5 tight, 0 none.

    Parameters
    ----------
    fit
        Codes of `FITS`, last axes rods, heads, casts.
    """
    loops = [c for c, cast in enumerate(ORDER) if cast not in NOT_A_D_LOOP]
    best = fit[..., loops].max(axis=(-3, -2, -1))
    worth = np.array([{CastFit.FITS: 1.0, CastFit.TIGHT: 0.5}.get(one, 0.0) for one in FITS])
    return np.asarray(worth[best], dtype=np.float64)


def pick_cast(fit: U1, kit: Kit, *, river_left: bool, sinking: bool, wind: LoopSide) -> Pick:
    """Return the cast to make at one place.

    Parameters
    ----------
    fit
        Codes of `FITS`, shape (rods, heads, casts).
    kit
        Rods and heads, in the angler's order of liking.
    river_left
        Whether one stands on river left.
    sinking
        Whether a sinking tip is on.
    wind
        Side the loop must lie on.

    Notes
    -----
    First what fits before what is tight; then a loop the wind leaves clear; then D-loops before
    static roll and overhead; then sustained anchors with a sinking tip, else touch-and-go; then the
    natural hand; then the kit's order. Our choice, after common practice.
    """
    best_of = fit.max(axis=(0, 1))
    kinds = {code: FITS[code] for code in range(len(FITS))}
    fits = tuple(cast for c, cast in enumerate(ORDER) if kinds[int(best_of[c])] is CastFit.FITS)
    tight = tuple(cast for c, cast in enumerate(ORDER) if kinds[int(best_of[c])] is CastFit.TIGHT)
    ranked = []
    for r, h, c in np.ndindex(*fit.shape):
        code = int(fit[r, h, c])
        if FITS[code] not in (CastFit.FITS, CastFit.TIGHT):
            continue
        cast = ORDER[c]
        loop = _loop(cast, wind)
        ranked.append(
            (
                -code,
                not clear_of_wind(cast, wind),
                cast in NOT_A_D_LOOP,
                (cast in SUSTAINED) != sinking,
                not natural_hand(loop, river_left=river_left, hand=kit.angler.hand),
                h,
                r,
                c,
            )
        )
    unknown = bool((fit == FITS.index(CastFit.UNKNOWN)).any())
    if not ranked:
        none = CastFit.UNKNOWN if unknown else CastFit.NO
        return Pick(-1, -1, -1, none, fits, tight, unknown, LoopSide.EITHER, True)
    first = min(ranked)
    head, rod, cast = first[5], first[6], first[7]
    loop = _loop(ORDER[cast], wind)
    return Pick(
        cast,
        rod,
        head,
        FITS[-first[0]],
        fits,
        tight,
        unknown,
        loop,
        natural_hand(loop, river_left=river_left, hand=kit.angler.hand),
    )


def _loop(cast: Cast, wind: LoopSide) -> LoopSide:
    """Return the side a cast's loop lies on; the wind's where the cast leaves the choice."""
    own = CASTS[cast].side
    return wind if own is LoopSide.EITHER else own
