"""Kriging of many soundings by stretches of river, each from its neighbours: bounded memory."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.ground.settings import TrackSettings
from reachmap.ground.soundings import Doubt, Kriged, Noise, Places, krige


def krige_near(
    known: Places,
    residual: FloatArray,
    wanted: Places,
    doubt: Doubt,
    noise: Noise,
    settings: TrackSettings,
) -> Kriged:
    """Return simple kriging from all soundings, or where these are many from those that matter.

    Up to `settings.together` soundings are one system. Of more, the river is cut into stretches
    that hold a third of `settings.near` soundings each; a stretch is kriged from the `near`
    soundings nearest along the river and `far` of all others, evenly picked: the near ones screen
    what lies behind them, the far ones tell what is common to the whole reach and to each set.
    Memory goes with near + far squared, not with the number of soundings.

    Parameters
    ----------
    known, residual, wanted, doubt, noise
        As for `krige`.
    settings
        The numbers.
    """
    if known.station.size <= settings.together:
        return krige(known, residual, wanted, doubt, noise)
    value, variance = np.empty(wanted.station.shape), np.empty(wanted.station.shape)
    for cells, picked in stretches(known.station, wanted.station, settings):
        got = krige(
            known.part(picked),
            residual[picked],
            wanted.part(cells),
            doubt,
            noise.part(picked),
        )
        value[cells], variance[cells] = got.value, got.variance
    return Kriged(value, variance)


def stretches(
    known: FloatArray, wanted: FloatArray, settings: TrackSettings
) -> Iterator[tuple[IntArray, IntArray]]:
    """Yield each stretch's places and the soundings it is kriged from, as numbers.

    Every place is in one stretch. Parameters: stations of soundings and places [m].
    """
    order = np.argsort(known, kind="stable")
    count = max(settings.near // 3, 1)
    ends = known[order[count::count]]
    which = np.searchsorted(ends, wanted, side="right")
    for number in range(ends.size + 1):
        cells = np.flatnonzero(which == number).astype(np.int32)
        if not cells.size:
            continue
        low = ends[number - 1] if number > 0 else known[order[0]]
        high = ends[number] if number < ends.size else known[order[-1]]
        apart = np.maximum(np.maximum(low - known, known - high), 0.0)
        nearest = np.argsort(apart, kind="stable")
        rest = np.sort(nearest[settings.near :])
        far = rest[np.unique(np.linspace(0, rest.size - 1, settings.far).astype(np.int64))]
        picked = np.concatenate([nearest[: settings.near], far])
        yield cells, np.sort(picked).astype(np.int32)
