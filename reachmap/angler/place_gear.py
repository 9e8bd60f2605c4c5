"""Room behind at every angle, and the cast, rod and head for the plan of each place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler.clearance import Room, find_fits, longest_heads
from reachmap.angler.dloop import cast_reach
from reachmap.angler.gear import sinks
from reachmap.angler.picks import Pick, Ranks, pick_cast
from reachmap.angler.stations import Stands
from reachmap.angler.tries import Loops, Scene
from reachmap.angler.wind import downwind_side
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.words import Cast


@dataclass(frozen=True, slots=True)
class RoomBehind:
    """Room behind n places at every angle.

    Shapes (n, angles, rods, casts), (n, angles) and (n, angles, rods, heads, casts).
    """

    reach_m: FloatArray
    known_m: FloatArray
    fit: CodeArray

    def take(self, index: IntArray) -> RoomBehind:
        """Return some of the places."""
        return RoomBehind(self.reach_m[index], self.known_m[index], self.fit[index])

    def at(self, angle: IntArray) -> Room:
        """Return the room behind every place at one angle each."""
        here = np.arange(angle.size), np.maximum(angle, 0)
        return Room(self.reach_m[here], self.known_m[here])


def loops_of(scene: Scene, behind: RoomBehind) -> Loops:
    """Return the longest piece of head with room behind at every angle from every place."""
    count, angles = behind.known_m.shape
    flat = Room(behind.reach_m.reshape(-1, *behind.reach_m.shape[2:]), behind.known_m.ravel())
    wade = np.repeat(scene.stands.wade, angles)
    room, kit = scene.settings.room, scene.kit
    fits, tight = (
        np.nan_to_num(longest_heads(flat, wade, kit, room, uncertainty=off)).reshape(count, angles)
        for off in (room.doubt, 0.0)
    )
    return Loops(fits, tight)


def pick_gear(
    scene: Scene,
    behind: RoomBehind,
    angle: IntArray,
    tip: IntArray,
    cast_m: FloatArray,
    far_m: FloatArray,
) -> list[Pick]:
    """Return the cast, rod and head at each place for its angle, tip and length.

    Only as much of a head as is outside the rod tip takes room. Head and rod are chosen by the
    middle cast of the places of one piece and bank, the rod by `far_m` in the same way,
    so that they change where room asks for it alone.
    """
    stands, kit, gear, settings = scene.stands, scene.kit, scene.gear, scene.settings
    there = behind.at(angle)
    cast = np.nan_to_num(cast_m, nan=kit.angler.cast_limit_m)
    tips = np.maximum(tip, 0)
    fit, _ = find_fits(
        there,
        stands.wade,
        kit,
        settings.room,
        outside_m=gear.outside(cast, tips),
        tail_m=gear.tails[tips],
    )
    usual, is_open = _usual_cast(stands, cast), _is_open(scene, there)
    longest = _usual_cast(stands, np.where(np.isfinite(far_m), far_m, cast))
    ranks: dict[tuple[int, float, float, bool], Ranks] = {}
    picks = []
    for i, one in enumerate(tips):
        down = stands.down[i]
        key = int(one), float(usual[i]), float(longest[i]), bool(is_open[i])
        if key not in ranks:
            ranks[key] = Ranks(
                gear.rod_ranks(key[0], key[2], is_open=key[3]),
                gear.head_ranks(key[0], key[1]),
                gear.turned[key[0]],
            )
        picks.append(
            pick_cast(
                fit[i],
                ranks[key],
                river_left=_on_left(stands, i),
                sinking=bool(tip[i] >= 0 and sinks(kit.tips[one])),
                wind=downwind_side(settings.wind, float(down[0]), float(down[1])),
                hand=kit.angler.hand,
                liked=kit.prefer_casts,
            )
        )
    return picks


def _usual_cast(stands: Stands, cast_m: FloatArray) -> FloatArray:
    """Return the middle cast of the places of each piece and bank [m], at every place."""
    usual = np.empty(cast_m.size)
    for key in {(int(w), int(s)) for w, s in zip(stands.water, stands.side, strict=True)}:
        mine = (stands.water == key[0]) & (stands.side == key[1])
        usual[mine] = np.median(cast_m[mine])
    return usual


def _is_open(scene: Scene, there: Room) -> BoolArray:
    """Return where there is room to spare behind: `open_share` times the longest rod's loop."""
    kit, settings = scene.kit, scene.settings
    rod = max(range(len(kit.rods)), key=lambda i: kit.rods[i].length_m)
    lifted = [one.length_m for one in kit.heads if scene.gear.lifted(kit.rods[rod], one)]
    head = max(lifted, default=0.0)
    needs = cast_reach(
        Cast.DOUBLE_SPEY, kit.rods[rod].length_m, head, scene.stands.wade, settings.room
    )
    cast = list(settings.room.casts).index(Cast.DOUBLE_SPEY)
    clear = np.minimum(there.reach_m[:, rod, cast], there.known_m)
    return np.asarray(clear >= settings.plan.open_share * needs)


def _on_left(stands: Stands, i: int) -> bool:
    """Return whether, facing the water, upstream lies to the right: as on river left's bank."""
    down, across = stands.down[i], stands.across[i]
    return bool(across[0] * -down[1] + across[1] * down[0] < 0)
