"""Room behind the angler: which casts fit, with which rod and head, and how long a head at most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels import room_behind
from reachmap.angler.casts import CASTS, FULL_CASTS, Leg
from reachmap.angler.dloop import (
    cast_reach,
    lifted_head,
    line_sag,
    longest_head,
    loop_frame,
    suits,
    tail_length,
)
from reachmap.angler.settings import RoomSettings
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.words import Cast, CastFit
from reachmap.markup.kit import Head, Kit, Rod

FITS: tuple[CastFit, ...] = (CastFit.NO, CastFit.UNKNOWN, CastFit.TIGHT, CastFit.FITS)
"""Codes of a fit, worst first."""


@dataclass(frozen=True, slots=True)
class Room:
    """Room behind n places: what each cast and rod could use.

    `reach_m` has shape (n, rods, casts): the largest reach of a loop that touches nothing mapped
    [m]; `known_m` shape (n,): how far behind the ground is known, less the margin [m].
    """

    reach_m: FloatArray
    known_m: FloatArray


def find_room(
    view: View,
    points: FloatArray,
    level_m: FloatArray,
    wade_m: FloatArray,
    target_rad: FloatArray,
    kit: Kit,
    settings: RoomSettings,
) -> Room:
    """Return the room behind each place along the rays opposite its target.

    Parameters
    ----------
    view
        The raster, with its surface model.
    points
        Where one stands [m], shape (n, 2).
    level_m
        Height of the water there [m], shape (n,).
    wade_m
        Depth one stands in [m], negative on ground above the water, shape (n,).
    target_rad
        Direction of the cast, from east to north [rad], shape (n,).
    kit
        Rods: the height of a loop depends on them.
    settings
        Geometry, margins and sweep.

    Notes
    -----
    A line that straightens behind sags before it is drawn forward: what stands above its sagged
    height stops it, and it has no more room than the longest loop that touches nothing, which is
    the room that is printed.
    """
    offsets = np.radians(np.linspace(-settings.sweep_deg, settings.sweep_deg, settings.rays))
    back = target_rad[:, None] + np.pi + offsets[None, :]
    frames = [
        [loop_frame(rod.length_m, shape, 0.0, settings) for shape in settings.casts.values()]
        for rod in kit.rods
    ]
    share = np.array([shape.apex_share for shape in settings.casts.values()])
    height = np.array([[frame.tip_z for frame in row] for row in frames])
    # Frames are for dry feet: wading lowers tip and apex alike, x stays.
    apex = share * (height[None] - wade_m[:, None, None])
    flat = np.array([shape.leg is Leg.LEVEL for shape in settings.casts.values()])
    apex = np.where(flat, apex - line_sag(settings), apex)
    row, col = view.grid.position(*points.T)
    surface = view.surface[:, :]
    room, known = room_behind(
        surface,
        surface - view.bed[:, :],
        col,
        row,
        np.ascontiguousarray(level_m, dtype=np.float64),
        np.cos(back),
        # rows run south
        -np.sin(back),
        np.ascontiguousarray(apex.reshape(len(points), -1)),
        np.tile(~flat, len(kit.rods)),
        view.cell,
        -settings.anchor_m,
        settings.margin_m,
        settings.clearance_m,
        settings.cover_low_m,
        settings.look_m,
    )
    reach = np.where(flat & (apex <= 0), 0.0, room.reshape(apex.shape))
    loops = [c for c, cast in enumerate(settings.casts) if cast in FULL_CASTS]
    clear = reach[:, :, loops].max(axis=(1, 2))[:, None, None]
    return Room(np.where(flat, np.minimum(reach, clear), reach), known)


def grade_fit(
    reach_m: FloatArray,
    room_m: FloatArray,
    known_m: FloatArray,
    uncertainty: float,
    *,
    firm: BoolArray | bool = False,
) -> CodeArray:
    """Return whether loops of these reaches have their room, as codes of `FITS`.

    Parameters
    ----------
    reach_m
        Room the casts take [m]; NaN for a cast that is not made with that gear: no.
    room_m
        Room as far as the ground is known [m].
    known_m
        How far behind the ground is known [m].
    uncertainty
        Relative error of a reach, 0 to 1.
    firm
        Casts whose reach is no shorter than reckoned: a line that straightens has its length.

    Notes
    -----
    Fits: room even if the loop is longer than reckoned. No: something mapped is in the way even if
    it is shorter. Unknown ground within the longer loop never lets it fit.
    """
    short, long = np.where(firm, reach_m, reach_m * (1 - uncertainty)), reach_m * (1 + uncertainty)
    with np.errstate(invalid="ignore"):
        # Each line overrules those before it: cover in the way is no, whatever is unknown farther
        # back; unknown ground within the longer loop forbids fits and tight.
        code = np.where(long <= room_m, FITS.index(CastFit.FITS), FITS.index(CastFit.TIGHT))
        code = np.where(long <= known_m, code, FITS.index(CastFit.UNKNOWN))
        code = np.where(short <= room_m, code, FITS.index(CastFit.NO))
    return code.astype(np.uint8)


def find_fits(
    room: Room,
    wade_m: FloatArray,
    kit: Kit,
    settings: RoomSettings,
    *,
    outside_m: FloatArray | None = None,
    tail_m: FloatArray | None = None,
) -> tuple[CodeArray, FloatArray]:
    """Return code of `FITS` and reach [m] of every cast, shape (n, rods, heads, casts).

    A head too long for a rod to lift is not cast with it. `outside_m` (n, rods, heads) is how much
    of each head is outside the rod tip [m], None: all of it; `tail_m` (n,) the tip and leader that
    an overhead cast takes back with it [m], None: the longest tip owned, with the leader. Of a cast
    formed at an angle to the target only `back_share` of the loop lies straight behind.
    """
    longest = max(tail_length(tip, kit.angler.leader_m) for tip in kit.tips)
    tail = np.full(len(wade_m), longest) if tail_m is None else tail_m
    rods = np.array([rod.length_m for rod in kit.rods])[None, :, None]
    heads = np.array([head.length_m for head in kit.heads])[None, None, :]
    heads = heads if outside_m is None else outside_m
    wade = np.asarray(wade_m)[:, None, None]
    shape = (wade.shape[0], len(kit.rods), len(kit.heads))
    reach = np.full((*shape, len(CASTS)), np.nan)
    for c, cast in enumerate(CASTS):
        made = [
            [suits(cast, head) and _lifts(rod, head, settings) for head in kit.heads]
            for rod in kit.rods
        ]
        whole = cast_reach(cast, rods, heads, wade, settings, tail_m=tail[:, None, None])
        reach[..., c] = np.where(made, settings.casts[cast].back_share * whole, np.nan)
    there, known = room.reach_m[:, :, None, :], room.known_m[:, None, None, None]
    firm = np.array([settings.casts[cast].leg is Leg.LEVEL for cast in CASTS])
    return grade_fit(reach, there, known, settings.doubt, firm=firm), reach


def _lifts(rod: Rod, head: Head, settings: RoomSettings) -> bool:
    """Return whether a rod can lift a head."""
    return head.length_m <= lifted_head(head.family, rod.length_m, settings) + 1e-6


def longest_heads(
    room: Room,
    wade_m: FloatArray,
    kit: Kit,
    settings: RoomSettings,
    *,
    uncertainty: float | None = None,
) -> FloatArray:
    """Return the longest head that fits with any rod and any cast with a D-loop [m], shape (n,).

    No longer than the rod can lift. The room is reduced by the share `uncertainty`, by default
    `settings.doubt`; NaN where not even the shortest loop has it, or where it is not known.
    """
    best = np.full(room.known_m.shape, np.nan)
    off = settings.doubt if uncertainty is None else uncertainty
    for c, cast in enumerate(CASTS):
        if cast not in FULL_CASTS:
            continue
        for r, rod in enumerate(kit.rods):
            there = np.minimum(room.reach_m[:, r, c], room.known_m) / (1 + off)
            there = there / settings.casts[cast].back_share
            # An underhand cast is made with shooting heads
            # alone, so theirs is the longest that counts.
            family = "scandi" if cast is Cast.UNDERHAND else "long belly"
            head = longest_head(cast, rod.length_m, there, wade_m, settings)
            best = np.fmax(best, np.minimum(head, lifted_head(family, rod.length_m, settings)))
    return best


def room_length(room: Room) -> FloatArray:
    """Return the clear room behind each place [m]: the longest loop that touches nothing.

    NaN where the ground that could stop it is not known.
    """
    columns = [c for c, cast in enumerate(CASTS) if cast in FULL_CASTS]
    clear = room.reach_m[:, :, columns].max(axis=(1, 2))
    return np.where(clear <= room.known_m, clear, np.nan)
