"""Candidate swings: casts from each place, simulated as a line in the current."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields

import numpy as np

from reachmap.angler.gear import Gear
from reachmap.angler.judge import Judged, judge
from reachmap.angler.line import Line, build_line
from reachmap.angler.settings import AnglerSettings, LineSettings
from reachmap.angler.stations import Stands
from reachmap.angler.strips import Strips
from reachmap.angler.swing import Current, Swings, Throw, swing_many
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip
from reachmap.markup.kit import Kit

BATCH = 600
"""Swings worked out in one go: their tracks fill some 6 MB."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Inputs shared by all swings to try.

    `pace` is the slowest and quickest wanted speed of the fly across the current, `wanted` that in
    between which is best [m/s]; `current` the field the line is swung in; `lines` keeps lines
    already made.
    """

    view: View
    stands: Stands
    strips: Strips
    gear: Gear
    settings: AnglerSettings
    wanted: float
    pace: tuple[float, float]
    current: Current
    lines: dict[tuple[float, int, int], Line] = field(default_factory=dict)

    @property
    def kit(self) -> Kit:
        """Return the kit."""
        return self.gear.kit


@dataclass(frozen=True, slots=True)
class Tries:
    """Swings to try, arrays of shape (k,).

    `place` is the number of the place, `angle` that of the angle, -1 for no swing; `cast_m` the
    length to the fly [m]; `tip`, `rod` and `head` are numbers in the kit, the last two -1 for what
    one would take with room for any; `mends` is 0 for none, else the number of the pattern of mends
    in the settings, from 1; `fed` whether line is fed, `high` whether the rod is held high.
    """

    place: IntArray
    angle: IntArray
    cast_m: FloatArray
    tip: IntArray
    rod: IntArray
    head: IntArray
    mends: IntArray
    fed: BoolArray
    high: BoolArray

    def __len__(self) -> int:
        """Return how many there are."""
        return int(self.place.size)

    def take(self, index: IntArray | BoolArray | slice) -> Tries:
        """Return some of them."""
        return Tries(**{one.name: getattr(self, one.name)[index] for one in fields(self)})


def make_tries(
    place: IntArray,
    angle: IntArray,
    cast_m: FloatArray,
    tip: IntArray | int,
    *,
    mends: IntArray | int = 0,
    fed: BoolArray | bool = False,
    high: BoolArray | bool = False,
) -> Tries:
    """Return swings to try with the gear one would take; arguments as of `Tries` broadcast."""
    place, angle, cast, tip_, mend, feed, up = np.broadcast_arrays(
        place, angle, cast_m, tip, mends, fed, high
    )
    none = np.full(place.size, -1, dtype=np.int32)
    return Tries(
        place.ravel().astype(np.int32),
        angle.ravel().astype(np.int32),
        cast.ravel().astype(np.float64),
        tip_.ravel().astype(np.int32),
        none,
        none.copy(),
        mend.ravel().astype(np.int32),
        feed.ravel().astype(bool),
        up.ravel().astype(bool),
    )


def joined_tries(parts: list[Tries]) -> Tries:
    """Return several lots of tries as one."""
    return Tries(
        **{
            one.name: np.concatenate([getattr(part, one.name) for part in parts])
            for one in fields(Tries)
        }
    )


def mends_of(pattern: int, settings: AnglerSettings) -> tuple[tuple[float, float], ...]:
    """Return the mends of a pattern: seconds after landing and bow [m], up the current positive."""
    if pattern == 0 or settings.line.mend_m <= 0:
        return ()
    moments = settings.plan.mends[pattern - 1]
    return tuple((second, bows * settings.line.mend_m) for second, bows in moments)


def swing_tries(
    scene: Scene, lot: Tries, target_rad: FloatArray, strip: Strip, line: LineSettings
) -> tuple[Judged, FloatArray]:
    """Return the results of swings in their strip, and their judged tracks.

    Parameters
    ----------
    scene
        Places, gear, current and the wanted pace.
    lot
        The swings, k of them.
    target_rad
        Direction of every angle from every place, from east to north, shape (places, angles).
    strip
        Which strip they are judged in.
    line
        How finely they are worked out.
    """
    judged, tracks = [], []
    for start in range(0, max(len(lot), 1), BATCH):
        part = lot.take(slice(start, start + BATCH))
        throws = [_throw(scene, part, k, target_rad) for k in range(len(part))]
        swings = swing_many(throws, scene.current, line, scene.settings.swing)
        inside = _inside(scene, swings, part.place, strip)
        width = scene.strips.width(strip)[part.place]
        one, track = judge(swings, scene.current, inside, width, scene.settings, scene.pace)
        judged.append(one)
        tracks.append(track)
    if len(judged) == 1:
        return judged[0], tracks[0]
    whole = {
        one.name: np.concatenate([getattr(part, one.name) for part in judged])
        for one in fields(Judged)
    }
    return Judged(**whole), np.concatenate(tracks)


@dataclass(frozen=True, slots=True)
class Loops:
    """Longest piece of head [m] whose loop has room behind, shape (places, angles); 0 for none.

    `fits_m` after the uncertainty of the reach, `tight_m` without it.
    """

    fits_m: FloatArray
    tight_m: FloatArray

    def worth(self, place: IntArray, angle: IntArray, out_m: FloatArray) -> FloatArray:
        """Return how good the room is for so much head [m]: 1 fits, 0.5 tight, 0 none."""
        at = place, angle
        return 0.5 * (out_m <= self.fits_m[at]) + 0.5 * (out_m <= self.tight_m[at])


def cost_of(scene: Scene, lot: Tries, loops: Loops) -> FloatArray:
    """Return the cost of the casts of tries, in shares of the strip.

    Parameters
    ----------
    scene, lot
        The tries.
    loops
        Room behind at every angle from every place.

    Notes
    -----
    Length over the longest cast, mends and other art, a heavier tip, room that is tight or missing.
    A cast squarer to the current than 45 degrees costs up to `square_cost` straight across, and
    more up the current: the more line lies across, the less one holds it.
    """
    plan, kit = scene.settings.plan, scene.kit
    acts = np.array([len(mends_of(number, scene.settings)) for number in range(_patterns(scene))])
    order = np.zeros(len(kit.tips))
    order[scene.gear.usable] = np.arange(scene.gear.usable.size)
    cost = plan.length_cost * lot.cast_m / kit.angler.cast_limit_m
    cost = cost + plan.act_cost * (acts[lot.mends] + lot.fed + lot.high)
    cost = cost + plan.tip_effort * order[lot.tip]
    angles = np.array(scene.settings.stations.angles_deg)[lot.angle]
    cost = cost + plan.square_cost * np.maximum(45.0 - angles, 0.0) / 45.0
    room = loops.worth(lot.place, lot.angle, scene.gear.out_of(lot.cast_m, lot.tip))
    return np.asarray(cost + plan.room_cost * (1.0 - room))


def _patterns(scene: Scene) -> int:
    """Return how many patterns of mends there are, none among them."""
    return len(scene.settings.plan.mends) + 1


def _throw(scene: Scene, lot: Tries, k: int, target_rad: FloatArray) -> Throw:
    """Return the k-th cast."""
    kit, settings, stands = scene.kit, scene.settings, scene.stands
    line, place, tip, cast = settings.line, int(lot.place[k]), int(lot.tip[k]), float(lot.cast_m[k])
    rod_number, head = int(lot.rod[k]), int(lot.head[k])
    if rod_number < 0:
        rod_number = scene.gear.rod_for(tip, cast)
    if head < 0:
        head = scene.gear.head_for(tip, cast)
    rod = kit.rods[rod_number].length_m
    height = max(line.tip_height_m - float(stands.wade[place]), line.tip_low_m)
    reach = rod
    if lot.high[k]:
        height += settings.plan.high_m
        reach = float(np.sqrt(max(rod**2 - settings.plan.high_m**2, 1.0)))
    out = max(cast - rod, 2.0)
    out = line.length_step_m * round(out / line.length_step_m)
    down = stands.down[place]
    return Throw(
        stand=stands.point[place],
        tip_m=height,
        reach_m=reach,
        line=_line(out, head, tip, scene),
        target_rad=float(target_rad[place, int(lot.angle[k])]),
        down_rad=math.atan2(down[1], down[0]),
        mends=mends_of(int(lot.mends[k]), settings),
        fed_m=settings.plan.fed_m if lot.fed[k] else 0.0,
    )


def _line(out_m: float, head: int, tip: int, scene: Scene) -> Line:
    """Return the line, made once for each length, head and tip."""
    key = (out_m, head, tip)
    if key not in scene.lines:
        kit = scene.kit
        scene.lines[key] = build_line(
            out_m, kit.heads[head], kit.tips[tip], kit.angler.leader_m, scene.settings.line
        )
    return scene.lines[key]


def _inside(scene: Scene, swings: Swings, place: IntArray, strip: Strip) -> BoolArray:
    """Return whether the fly is over its strip, shape (n, records)."""
    x, y = swings.column("x"), swings.column("y")
    known = np.isfinite(x)
    points = np.column_stack([np.where(known, a, 0.0).ravel() for a in (x, y)])
    row, col, on_map = scene.view.grid.index(*points.T)
    row, col = row.reshape(x.shape), col.reshape(x.shape)
    inside = np.zeros(x.shape, dtype=bool)
    banks = scene.strips.bank[place]
    for bank in np.unique(banks):
        mine = banks == bank
        inside[mine] = scene.strips.holds(scene.view, int(bank), strip, row[mine], col[mine])
    return inside & known & on_map.reshape(x.shape)
