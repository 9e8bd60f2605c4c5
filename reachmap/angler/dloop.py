"""Geometry of the D-loop: its reach behind the angler, and the longest head for a given room.

The line between the rod tip and the point where it meets the water is a string of fixed length S.
Pulled tight around its rearmost point it runs straight from the tip to the apex and straight from
there to the water, so the apex lies on the ellipse whose foci are the rod tip and that point, at
the height the cast gives it. x runs back from the angler's feet along the ray opposite the target,
z up from the water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reachmap.angler.casts import CastShape, Leg
from reachmap.angler.settings import RoomSettings
from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.base.words import Cast
from reachmap.markup.kit import Head, Tip

SHORT_FAMILIES = frozenset({"skagit", "scandi"})
"""Families of shooting heads; the others are bellies."""


@dataclass(frozen=True, slots=True)
class LoopFrame:
    """Where a loop hangs, all [m], z above the water; arrays that broadcast together.

    Rod tip (`tip_x`, `tip_z`), the line's meeting with the water (`anchor_x`, 0), height of the
    apex `apex_z`.
    """

    tip_x: FloatArray
    tip_z: FloatArray
    anchor_x: float
    apex_z: FloatArray


def loop_frame(
    rod_m: ArrayLike, shape: CastShape, wade_m: ArrayLike, settings: RoomSettings
) -> LoopFrame:
    """Return where the loop of a cast hangs.

    Parameters
    ----------
    rod_m
        Length of the rod [m].
    shape
        The cast.
    wade_m
        Depth the angler stands in [m]; negative on ground above the water.
    settings
        Hands, butt and where the line meets the water.

    Notes
    -----
    tip_x = back + (R - butt) sin b, tip_z = hand - wade + (R - butt) cos b; geometry.
    """
    lean = np.radians(shape.tilt_deg)
    free = np.asarray(rod_m, dtype=np.float64) - settings.butt_m
    tip_z = settings.hand_m - np.asarray(wade_m, dtype=np.float64) + free * np.cos(lean)
    return LoopFrame(
        tip_x=np.asarray(settings.back_m + free * np.sin(lean)),
        tip_z=np.asarray(tip_z),
        anchor_x=-settings.anchor_m,
        apex_z=np.asarray(shape.apex_share * tip_z),
    )


def string_length(head_m: ArrayLike, shape: CastShape, settings: RoomSettings) -> FloatArray:
    """Return the length of line between rod tip and water [m]: S = H (1 - anchored) + overhang."""
    head = np.asarray(head_m, dtype=np.float64)
    return np.asarray(head * (1 - shape.anchored) + overhang(head, settings))


def overhang(head_m: ArrayLike, settings: RoomSettings) -> FloatArray:
    """Return the running line outside the tip ring [m]."""
    long = np.asarray(head_m) >= settings.long_head_m
    return np.where(long, settings.overhang_long_m, settings.overhang_short_m)


def loop_reach(string_m: ArrayLike, frame: LoopFrame) -> FloatArray:
    """Return how far behind the angler the apex of a tight loop lies [m].

    Parameters
    ----------
    string_m
        Length of line S between rod tip and water [m].
    frame
        Where the loop hangs.

    Returns
    -------
    FloatArray
        B [m]; NaN if the line is too short to reach that apex behind the rod tip.

    Notes
    -----
    Sum of distances from (B, za) to the foci (xr, zr) and (xp, 0) is S. With q = 2 (xr - xp) and
    p = S^2 + xp^2 - xr^2 + 2 za zr - zr^2 that is
    (4 S^2 - q^2) B^2 - (8 S^2 xp + 2 p q) B + 4 S^2 (xp^2 + za^2) - p^2 = 0, B the larger root;
    geometry of the ellipse. The squared equation has roots of its own, so the sum is asked for
    again at the end.
    """
    s = np.asarray(string_m, dtype=np.float64)
    xr, zr, xp, za = frame.tip_x, frame.tip_z, frame.anchor_x, frame.apex_z
    q = 2 * (xr - xp)
    p = s**2 + xp**2 - xr**2 + 2 * za * zr - zr**2
    square, linear = 4 * s**2 - q**2, -(8 * s**2 * xp + 2 * p * q)
    constant = 4 * s**2 * (xp**2 + za**2) - p**2
    with np.errstate(invalid="ignore", divide="ignore"):
        reach = (-linear + np.sqrt(linear**2 - 4 * square * constant)) / (2 * square)
        # square > 0: the line is longer than its ends are apart along x, an ellipse. The root must
        # lie behind tip and feet; in front of them the ellipse has points too.
        good = (square > 0) & (reach >= np.maximum(xr, 0.0))
        good &= np.isclose(string_for(reach, frame), s, rtol=1e-9, atol=1e-9)
    return np.where(good, reach, np.nan)


def string_for(reach_m: ArrayLike, frame: LoopFrame) -> FloatArray:
    """Return the length of line whose apex lies `reach_m` behind [m]: the inverse, exact."""
    reach = np.asarray(reach_m, dtype=np.float64)
    upper = np.hypot(reach - frame.tip_x, frame.apex_z - frame.tip_z)
    return np.asarray(upper + np.hypot(reach - frame.anchor_x, frame.apex_z))


def cast_reach(
    cast: Cast,
    rod_m: ArrayLike,
    head_m: ArrayLike,
    wade_m: ArrayLike,
    settings: RoomSettings,
    *,
    tail_m: ArrayLike = 0.0,
) -> FloatArray:
    """Return the room a cast takes behind the angler [m].

    Parameters
    ----------
    cast
        What is cast.
    rod_m, head_m, wade_m
        Lengths of rod and head and the depth the angler stands in [m]; they broadcast together.
    settings
        Geometry of the caster.
    tail_m
        Tip and leader beyond the head [m]; only the overhead cast takes them back.

    Notes
    -----
    Static roll: the line hangs, B = xr + `hang_share` min(S, 2 zr), from memory. Overhead: all of
    the line. Loops of a head too short to lift an apex behind the tip stay at the tip.
    """
    shape = settings.casts[cast]
    frame = loop_frame(rod_m, shape, wade_m, settings)
    string = string_length(head_m, shape, settings)
    if shape.leg is Leg.LEVEL:
        return np.asarray(frame.tip_x + string + np.asarray(tail_m))
    if shape.leg is Leg.HANGING:
        return np.asarray(frame.tip_x + settings.hang_share * np.minimum(string, 2 * frame.tip_z))
    reach = loop_reach(string, frame)
    return np.where(np.isnan(reach), frame.tip_x, reach)


def longest_head(
    cast: Cast, rod_m: ArrayLike, room_m: ArrayLike, wade_m: ArrayLike, settings: RoomSettings
) -> FloatArray:
    """Return the longest head whose loop stays within `room_m` [m]; NaN if the rod alone does not.

    Parameters
    ----------
    cast
        A cast with a D-loop.
    rod_m, room_m, wade_m
        Length of the rod, reach there is room for, depth the angler stands in [m].
    settings
        Geometry of the caster.

    Raises
    ------
    ValueError
        If the cast has no D-loop.
    """
    shape = settings.casts[cast]
    if shape.leg is not Leg.RISING:
        msg = f"{cast.value} has no D-loop to turn round"
        raise ValueError(msg)
    frame = loop_frame(rod_m, shape, wade_m, settings)
    room = np.asarray(room_m, dtype=np.float64)
    string = string_for(room, frame)
    short = (string - settings.overhang_short_m) / (1 - shape.anchored)
    long = (string - settings.overhang_long_m) / (1 - shape.anchored)
    limit = settings.long_head_m
    # just short of a long head the overhang is still the short one, so lengths between are short
    head = np.where(long >= limit, long, np.minimum(short, np.nextafter(limit, 0)))
    return np.where((room >= frame.tip_x) & (head > 0), head, np.nan)


def tail_length(tip: Tip, leader_m: float) -> float:
    """Return the length of line beyond the head [m]: tip and leader."""
    return tip.length_m + leader_m


def suits(cast: Cast, head: Head) -> bool:
    """Return whether a cast is made with such a head at all (common practice)."""
    return cast is not Cast.UNDERHAND or head.family in SHORT_FAMILIES


def lifted_head(family: str, rod_m: float, settings: RoomSettings) -> float:
    """Return the longest head of a family that a rod can lift [m].

    Parameters
    ----------
    family
        Of `kit.FAMILIES`.
    rod_m
        Length of the rod [m].
    settings
        Longest heads over the rod's length.

    Notes
    -----
    A multiple of the rod's length by family: common practice, no published source.
    """
    shares = {"skagit": settings.skagit_rods, "scandi": settings.scandi_rods}
    return shares.get(family, settings.belly_rods) * rod_m


def line_sag(settings: RoomSettings) -> float:
    """Return how far the far end of a line straightened behind falls [m]: g t^2 / 2."""
    return 0.5 * GRAVITY * settings.sag_s**2
