"""Choice among the casts that fit: cast, rod, head, loop side and hand at each place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from reachmap.angler.casts import CASTS
from reachmap.angler.clearance import FITS
from reachmap.angler.wind import clear_of_wind, natural_hand
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.words import Cast, CastFit, Hand, LoopSide

ORDER = tuple(CASTS)
FITS_CODE, TIGHT_CODE = FITS.index(CastFit.FITS), FITS.index(CastFit.TIGHT)
NOT_A_D_LOOP = frozenset({Cast.STATIC_ROLL, Cast.OVERHEAD})
SUSTAINED = frozenset({Cast.PERRY_POKE, Cast.DOUBLE_SPEY, Cast.SNAP_T, Cast.CIRCLE_C})
"""Casts that lift a sinking tip to the surface first: common practice with sink tips and skagit
heads."""
LIKED = (
    Cast.DOUBLE_SPEY,
    Cast.SNAP_T,
    Cast.CIRCLE_C,
    Cast.SINGLE_SPEY,
    Cast.SNAKE_ROLL,
    Cast.UNDERHAND,
    Cast.PERRY_POKE,
    Cast.STATIC_ROLL,
    Cast.OVERHEAD,
)
"""Casts in the order in which they are taken where several serve alike, unless the angler gives
another: common practice, no published source. The poke is for where nothing else fits."""


@dataclass(frozen=True, slots=True)
class Pick:
    """What to do at one place: the cast, rod and head by their places in the table and the kit.

    `fit_of` says of each cast whether it has room with some rod and head; `unknown` whether some
    would only fit if what lies behind, unmapped, let them; `cast` is -1 where none has room.
    """

    cast: int
    rod: int
    head: int
    fit_of: Mapping[Cast, CastFit]
    unknown: bool
    loop: LoopSide
    natural: bool


@dataclass(frozen=True, slots=True)
class Ranks:
    """Ranks of rods (rods,) and heads (heads,) for a tip and a cast, 0 best.

    `heads_fit` (heads,) are those that turn the tip over.
    """

    rods: IntArray
    heads: IntArray
    heads_fit: BoolArray


def room_worth(fit: CodeArray) -> FloatArray:
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


def pick_cast(
    fit: CodeArray,
    ranks: Ranks,
    *,
    river_left: bool,
    sinking: bool,
    wind: LoopSide,
    hand: Hand,
    liked: Sequence[Cast] = (),
) -> Pick:
    """Return the cast to make at one place.

    Parameters
    ----------
    fit
        Codes of `FITS`, shape (rods, heads, casts).
    ranks
        Which rod and head one would rather take.
    river_left
        Whether one stands on river left.
    sinking
        Whether a sinking tip is on.
    wind
        Side the loop must lie on.
    hand
        The upper hand.
    liked
        The angler's own order of casts; those not named come after, as in `LIKED`.

    Notes
    -----
    Only heads that turn over the tip, and no underhand cast with a sinking one, where something
    else has room. First what fits before what is
    tight; then a loop the wind leaves clear; then D-loops before static roll and overhead; then
    sustained anchors with a sinking tip, else touch-and-go; then the poke after the others; then
    the natural hand; then the order of casts; then head and rod by rank. Our choice, after common
    practice.
    """
    best_of = fit.max(axis=(0, 1))
    fit_of = {cast: FITS[int(code)] for cast, code in zip(ORDER, best_of, strict=True)}
    unknown = bool((fit == FITS.index(CastFit.UNKNOWN)).any())
    made = np.array([not (sinking and cast is Cast.UNDERHAND) for cast in ORDER])
    mine = np.where(ranks.heads_fit[None, :, None] & made, fit, FITS.index(CastFit.NO))
    mine = mine if mine.max() >= TIGHT_CODE else fit
    code = int(mine.max())
    if code < TIGHT_CODE:
        return Pick(-1, -1, -1, fit_of, unknown, LoopSide.EITHER, True)
    rods, heads, casts = np.nonzero(mine == code)
    dislikes = _dislikes(wind, hand, tuple(liked), river_left=river_left, sinking=sinking)
    first = np.lexsort((ranks.rods[rods], ranks.heads[heads], dislikes[casts]))[0]
    cast = int(casts[first])
    loop = _loop(ORDER[cast], wind)
    return Pick(
        cast,
        int(rods[first]),
        int(heads[first]),
        fit_of,
        unknown,
        loop,
        natural_hand(loop, river_left=river_left, hand=hand),
    )


@cache
def _dislikes(
    wind: LoopSide, hand: Hand, liked: tuple[Cast, ...], *, river_left: bool, sinking: bool
) -> IntArray:
    """Return how little each cast is liked there, by the order of what counts; 0 is best."""
    order = [*liked, *(cast for cast in LIKED if cast not in liked)]
    found = []
    for cast in ORDER:
        natural = natural_hand(_loop(cast, wind), river_left=river_left, hand=hand)
        against = (
            not clear_of_wind(cast, wind),
            cast in NOT_A_D_LOOP,
            (cast in SUSTAINED) != sinking,
            cast is Cast.PERRY_POKE and cast not in liked,
            not natural,
        )
        weight = sum(16 >> place for place, holds in enumerate(against) if holds)
        found.append(weight * len(order) + order.index(cast))
    return np.array(found, dtype=np.int32)


def _loop(cast: Cast, wind: LoopSide) -> LoopSide:
    """Return the side a cast's loop lies on; the wind's where the cast leaves the choice."""
    own = CASTS[cast].side
    return wind if own is LoopSide.EITHER else own
