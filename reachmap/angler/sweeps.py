"""Area swept by a cast: the line laid out, the swing down to the hang, and the back cast."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from reachmap.angler.dloop import cast_reach, tail_length
from reachmap.angler.picks import ORDER, Pick
from reachmap.angler.settings import RoomSettings
from reachmap.angler.stations import Stands
from reachmap.base.arrays import FloatArray
from reachmap.markup.kit import Kit


def back_reach(
    picks: Sequence[Pick], wade_m: FloatArray, kit: Kit, settings: RoomSettings
) -> FloatArray:
    """Return how far behind each place its cast reaches, margin included [m]; 0 without a cast.

    Parameters
    ----------
    picks
        The cast, rod and head at each place, n of them.
    wade_m
        Depth one stands in [m], shape (n,).
    kit, settings
        Rods, heads and tips; geometry of the caster.
    """
    tail = max(tail_length(tip, kit.angler.leader_m) for tip in kit.tips)
    reach = np.zeros(len(picks))
    for i, pick in enumerate(picks):
        if pick.cast >= 0:
            rod, head = kit.rods[pick.rod].length_m, kit.heads[pick.head].length_m
            wade = float(wade_m[i])
            reach[i] = cast_reach(ORDER[pick.cast], rod, head, wade, settings, tail_m=tail)
    return np.asarray(np.nan_to_num(reach) * (1 + settings.doubt))


def swept_areas(
    stands: Stands,
    target_rad: FloatArray,
    cast_m: FloatArray,
    paths: FloatArray,
    back_m: FloatArray,
    *,
    sweep_deg: float,
) -> NDArray[np.object_]:
    """Return the area each cast sweeps, n shapes [m].

    Parameters
    ----------
    stands
        Places, n of them, with the current there.
    target_rad, cast_m
        Direction from east to north [rad] and length [m] of each cast, shape (n,); NaN: no cast.
    paths
        Where each fly goes [m], shape (n, records, 2), NaN after the end.
    back_m
        How far behind the line reaches [m], shape (n,).
    sweep_deg
        Half the sweep of directions of the line behind [degrees].

    Notes
    -----
    The hull of the place, where the fly lands, its path and the line hanging straight down the
    current; with the sector behind.
    """
    cast = np.isfinite(cast_m) & np.isfinite(target_rad)
    ahead = np.stack([np.cos(target_rad), np.sin(target_rad)], axis=-1)
    lands = stands.point + cast_m[:, None] * ahead
    hangs = stands.point + cast_m[:, None] * stands.down
    front = np.stack([stands.point, lands, hangs], axis=1)
    turn = np.radians(np.array([-sweep_deg, 0.0, sweep_deg])) + np.pi
    behind = target_rad[:, None] + turn
    way = np.stack([np.cos(behind), np.sin(behind)], axis=-1)
    back = stands.point[:, None] + back_m[:, None, None] * way
    front[~cast, 1:], back[~cast] = np.nan, np.nan
    front = np.concatenate([front, paths], axis=1)
    back = np.concatenate([stands.point[:, None], back], axis=1)
    return np.asarray(shapely.union(_hulls(front), _hulls(back)))


def _hulls(points: FloatArray) -> NDArray[np.object_]:
    """Return the convex hull of each row of points, shape (n, points, 2); NaN is no point.

    The first of each row is known.
    """
    points = points[:, np.r_[0, 0 : points.shape[1]]]  # a line wants two, the first one twice
    known = np.isfinite(points).all(axis=-1)
    row = np.nonzero(known)[0]
    return np.asarray(shapely.convex_hull(shapely.linestrings(points[known], indices=row)))
