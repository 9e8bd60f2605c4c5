"""Even water along a straight bank, and plans made for it, for tests of swing plans."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reachmap.angler import AnglerSettings
from reachmap.angler.choose import find_aims
from reachmap.angler.clearance import FITS, find_fits, find_room
from reachmap.angler.gear import Gear
from reachmap.angler.place_gear import RoomBehind
from reachmap.angler.plans import make_plans
from reachmap.angler.stations import Piece, Stands
from reachmap.angler.strips import find_strips
from reachmap.angler.swing import current_of
from reachmap.angler.tries import Scene
from reachmap.base.words import CastFit, Strip
from tests.angler.hand import KIT, flat_view

SETTINGS = AnglerSettings()
PACE, WANTED = (0.25, 0.6), 0.45
SIZE, CELL, BANK_ROW = 81, 1.0, 70


def river(depth=1.5, speed=0.6):
    """Return a view of even water running east, open dry land south of row `BANK_ROW`."""
    view = flat_view(size=SIZE, cell=CELL)
    wet = np.zeros(view.wet.shape, bool)
    wet[:BANK_ROW] = True
    rows = np.arange(SIZE)[:, None] + np.zeros((1, SIZE))
    return replace(
        view,
        wet=wet,
        dry=~wet,
        depth=np.where(wet, depth, np.nan),
        level=np.full(wet.shape, 100.0),
        east=np.where(wet, speed, np.nan),
        north=np.where(wet, 0.0, np.nan),
        bed=np.where(wet, 100.0 - depth, 100.0),
        station=np.zeros((SIZE, 1)) + np.arange(SIZE) * CELL,
        # north of the river line is positive; rows run south
        offset=(40.0 - rows) * CELL,
        land=~wet,
    )


def places(view, cols=(15,), back=1):
    """Return places on the south bank, `back` cells from the water, all for piece 0."""
    count = len(cols)
    rows = np.full(count, BANK_ROW + back - 1)
    return Stands(
        water=np.zeros(count, np.int32),
        side=-np.ones(count, np.int32),
        point=view.grid.points(rows, np.array(cols)),
        level=np.full(count, 100.0),
        wade=np.zeros(count),
        speed=np.zeros(count),
        station=np.array(cols, dtype=float) * CELL,
        across=np.tile([0.0, 1.0], (count, 1)),
        down=np.tile([1.0, 0.0], (count, 1)),
        away=np.full(count, 1.0),
        entered=np.ones(count, bool),
        barred=-np.ones(count, np.int32),
    )


def piece(low=1, high=9, length=70):
    """Return swing water `low` to `high` metres off the bank."""
    cells = np.zeros((SIZE, SIZE), bool)
    cells[BANK_ROW - high : BANK_ROW - low, 5 : 5 + length] = True
    return Piece(0, (slice(0, SIZE), slice(0, SIZE)), cells)


def scene_of(view, stands, water, *, kit=KIT, settings=SETTINGS):
    """Return a scene and the casts at every angle for both strips."""
    strips = find_strips(view, stands, [water], settings.plan.band_m)
    scene = Scene(
        view=view,
        stands=stands,
        strips=strips,
        gear=Gear(kit, settings),
        settings=settings,
        wanted=WANTED,
        pace=PACE,
        current=current_of(view),
    )
    aims = {one: find_aims(view, stands, strips, one, kit, settings) for one in Strip}
    return scene, aims


def behind_of(scene, aims):
    """Return the room behind every place at every angle."""
    stands, kit, settings = scene.stands, scene.kit, scene.settings
    count, angles = aims[Strip.INSIDE].cast_m.shape
    wade = np.repeat(stands.wade, angles)
    points = np.repeat(stands.point, angles, axis=0)
    target = aims[Strip.INSIDE].target_rad.ravel()
    level = np.repeat(stands.level, angles)
    room = find_room(scene.view, points, level, wade, target, kit, settings.room)
    fit, _ = find_fits(room, wade, kit, settings.room)
    return RoomBehind(
        room.reach_m.reshape(count, angles, *room.reach_m.shape[1:]),
        room.known_m.reshape(count, angles),
        fit.reshape(count, angles, *fit.shape[1:]),
    )


def planned(view, stands, water, *, kit=KIT, settings=SETTINGS):
    """Return the scene and the plans of places."""
    scene, aims = scene_of(view, stands, water, kit=kit, settings=settings)
    behind = behind_of(scene, aims)
    castable = (behind.fit > FITS.index(CastFit.NO)).any(axis=(1, 2, 3, 4))
    return scene, make_plans(scene, aims, behind, castable)


def walled(view, cells, height=30.0):
    """Return the view with trees from `cells` cells behind the water's edge on."""
    top = view.surface.copy()
    top[BANK_ROW + cells :] += height
    return replace(view, surface=top)
