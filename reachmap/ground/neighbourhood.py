"""Kriging of many soundings by stretches of river, each from its neighbours: bounded memory."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.ground.settings import TrackSettings
from reachmap.ground.soundings import BLOCK, Doubt, Kriged, Noise, Places, krige


def krige_near(
    known: Places,
    residual: FloatArray,
    wanted: Places,
    doubt: Doubt,
    noise: Noise,
    settings: TrackSettings,
) -> Kriged:
    """Return simple kriging from all soundings, or where these are many by stretches of river.

    Up to `settings.together` soundings are one system. Of more, what all share (how much too
    shallow the form is, its pools, its lean, the error of each set) is worked out first from all of
    them; then each stretch is kriged, with that taken out, from its `near` nearest soundings along
    the river: near ones screen what lies behind them. Memory goes with `near` squared, not with
    the number of soundings.

    Parameters
    ----------
    known, residual, wanted, doubt, noise
        As for `krige`.
    settings
        The numbers.

    Notes
    -----
    With residual r = F b + e, b of unit prior variance and e of covariance K: b has the precision
    A = I + F' K^-1 F and the mean A^-1 F' K^-1 r; a place with f and c = cov(e) has the value
    f b + c K^-1 (r - F b) and the variance c0 - c K^-1 c' + g A^-1 g', g = f - c K^-1 F (from
    memory: Bayesian kriging, Omre 1987). Exact but for K, whose soundings further apart than a
    stretch and its neighbours are taken as independent.
    """
    if known.station.size <= settings.together:
        return krige(known, residual, wanted, doubt, noise)
    shares = _shares(known, doubt, noise)
    precision, pull = np.eye(shares.shape[1]), np.zeros(shares.shape[1])
    for block in _blocks(known.station, settings.near):
        factor = cho_factor(_faded(known, doubt, noise, block), lower=True)
        precision += shares[block].T @ cho_solve(factor, shares[block])
        pull += shares[block].T @ cho_solve(factor, residual[block])
    common = np.linalg.solve(precision, pull)
    left = residual - shares @ common
    value, variance = np.empty(wanted.station.shape), np.empty(wanted.station.shape)
    for cells, picked in stretches(known.station, wanted.station, settings.near):
        factor = cho_factor(_faded(known, doubt, noise, picked), lower=True)
        weight, lever = cho_solve(factor, left[picked]), cho_solve(factor, shares[picked])
        near, step = known.part(picked), max(BLOCK // picked.size, 1)
        for first in range(0, cells.size, step):
            some = cells[first : first + step]
            part = wanted.part(some)
            cross, own = doubt.near(part, near), doubt.common(part)
            own = np.pad(own, ((0, 0), (0, shares.shape[1] - own.shape[1])))
            value[some] = own @ common + cross @ weight
            taken = (cross * cho_solve(factor, cross.T).T).sum(axis=1)
            apart = own - cross @ lever
            unsure = (apart * np.linalg.solve(precision, apart.T).T).sum(axis=1)
            variance[some] = doubt.near_variance(part) - taken + unsure
    return Kriged(value, np.maximum(variance, 0.0))


def _shares(known: Places, doubt: Doubt, noise: Noise) -> FloatArray:
    """Return what soundings have in common [m], shape (n, 3 + sets): the reach's, each set's."""
    sets = np.unique(noise.group[noise.group >= 0])
    return np.hstack([doubt.common(known), noise.shared * (noise.group[:, None] == sets)])


def _faded(known: Places, doubt: Doubt, noise: Noise, which: IntArray) -> FloatArray:
    """Return the covariance of some soundings but for what all share [m2]."""
    some = known.part(which)
    return np.asarray(doubt.near(some, some) + np.diag(noise.own[which] ** 2))


def _blocks(station: FloatArray, most: int) -> Iterator[IntArray]:
    """Yield all soundings in blocks of neighbours along the river."""
    order = np.argsort(station, kind="stable").astype(np.int32)
    for first in range(0, order.size, most):
        yield order[first : first + most]


def stretches(
    known: FloatArray, wanted: FloatArray, most: int
) -> Iterator[tuple[IntArray, IntArray]]:
    """Yield each stretch's places and the soundings it is kriged from, as numbers.

    Every place is in one stretch; a stretch holds a third of `most` soundings and takes as many
    again on either side.

    Parameters
    ----------
    known, wanted
        Stations of soundings and places [m].
    most
        Soundings a stretch takes.
    """
    order = np.argsort(known, kind="stable")
    count = max(most // 3, 1)
    ends = known[order[count::count]]
    which = np.searchsorted(ends, wanted, side="right")
    for number in range(ends.size + 1):
        cells = np.flatnonzero(which == number).astype(np.int32)
        if not cells.size:
            continue
        low = ends[number - 1] if number > 0 else known[order[0]]
        high = ends[number] if number < ends.size else known[order[-1]]
        apart = np.maximum(np.maximum(low - known, known - high), 0.0)
        nearest = np.argsort(apart, kind="stable")[:most]
        yield cells, np.sort(nearest).astype(np.int32)
