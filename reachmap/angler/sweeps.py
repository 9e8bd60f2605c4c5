"""What a cast sweeps: the line laid out, the swing down to the hang, and the line behind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

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
) -> list[BaseGeometry]:
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
    areas = []
    turn = np.radians(np.array([-sweep_deg, 0.0, sweep_deg])) + np.pi
    for i, at in enumerate(stands.point):
        places = [at[None, :]]
        if np.isfinite(cast_m[i]) and np.isfinite(target_rad[i]):
            ahead = np.array([np.cos(target_rad[i]), np.sin(target_rad[i])])
            behind = target_rad[i] + turn
            back = at + back_m[i] * np.column_stack([np.cos(behind), np.sin(behind)])
            places += [(at + cast_m[i] * ahead)[None, :], at + cast_m[i] * stands.down[i][None, :]]
            area = shapely.MultiPoint(np.vstack([at[None, :], back])).convex_hull
        else:
            area = shapely.Point(at)
        path = paths[i][np.isfinite(paths[i]).all(axis=1)]
        front = shapely.MultiPoint(np.vstack([*places, path])).convex_hull
        areas.append(shapely.union(front, area))
    return areas
