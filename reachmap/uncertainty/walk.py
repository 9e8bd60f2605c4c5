"""Access to the suggested places, and the order in which to walk or drift to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.arrays import BoolArray
from reachmap.base.words import Side, SurveyWay
from reachmap.ground.suggest import Suggestion

SPREADS = 2.0
"""Standard deviations added to the mapped depth and speed before a place counts as reached on foot
(our choice, 1.5-3)."""

STAND_M2_S = 0.5
"""Most depth times speed of such a place [m2/s]: about half of the rule of ten, 10 ft2/s or 0.93
m2/s (our choice, 0.3-0.6; the wading of the day is graded apart)."""

NEIGHBOURS = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, slots=True)
class Banks:
    """Which cells can be reached on foot at the lowest flow, and from which bank.

    Parameters
    ----------
    left, right
        Cells joined to that bank by water like it, shape (y, x).
    near_left
        Cells nearer to the left bank's dry ground than to the right's, shape (y, x).
    """

    left: BoolArray
    right: BoolArray
    near_left: BoolArray

    @classmethod
    def of(
        cls, ground: xr.Dataset, water: xr.Dataset, uncertainty: xr.Dataset, wade_limit_m: float
    ) -> Banks:
        """Return them for the lowest flow; unknown water is never reached on foot.

        Parameters
        ----------
        ground
            The ground stage's Dataset.
        water, uncertainty
            Of one flow, dims (y, x).
        wade_limit_m
            Deepest water the angler stands in [m].
        """
        depth, east, north = (
            water[name].to_numpy() for name in ("depth", "east_speed", "north_speed")
        )
        deep = depth + SPREADS * uncertainty["depth_spread"].to_numpy()
        quick = np.hypot(east, north) + SPREADS * uncertainty["speed_spread"].to_numpy()
        with np.errstate(invalid="ignore"):
            ok = (deep <= wade_limit_m) & (deep * quick <= STAND_M2_S)
        dry = np.isfinite(ground["bed"].to_numpy()) & ~np.isfinite(depth)
        left = ground["offset"].to_numpy() >= 0
        sides = [_joined(ok, dry & side) for side in (left, ~left)]
        far = [
            ndimage.distance_transform_edt(~(dry & side)) if (dry & side).any() else np.inf
            for side in (left, ~left)
        ]
        return cls(sides[0], sides[1], np.broadcast_to(far[0] <= far[1], dry.shape))


def _joined(ok: BoolArray, dry: BoolArray) -> BoolArray:
    """Return the cells of `ok` whose patch touches dry ground."""
    numbers, _ = ndimage.label(ok)
    shore = ok & ndimage.binary_dilation(dry, NEIGHBOURS)
    return np.asarray(ok & np.isin(numbers, np.unique(numbers[shore])))


def with_ways(places: Sequence[Suggestion], cells: Sequence[int], banks: Banks) -> list[Suggestion]:
    """Return places with the access to each; edges and sticks are noted from a bank.

    Parameters
    ----------
    places
        As suggested.
    cells
        Flat number of the cell of each.
    banks
        What can be reached on foot.
    """
    left, right, near = (one.ravel() for one in (banks.left, banks.right, banks.near_left))
    found = []
    for place, cell in zip(places, cells, strict=True):
        if place.kind != "sounding":
            side = "" if place.kind == "edge" else Side.LEFT if near[cell] else Side.RIGHT
            found.append(replace(place, way=SurveyWay.BANK, side=side))
        elif left[cell] or right[cell]:
            both = left[cell] and right[cell]
            from_left = near[cell] if both else left[cell]
            side = Side.LEFT if from_left else Side.RIGHT
            found.append(replace(place, way=SurveyWay.FOOT, side=side))
        else:
            found.append(replace(place, way=SurveyWay.BOAT, side=""))
    return found


def walking_order(places: Sequence[Suggestion]) -> list[int]:
    """Return the number of each place in the order of going, from 1.

    First on foot down one bank, that whose notes are worth more, then down the other; then by boat
    down the river; then, at another flow, what is noted from the banks: flow by flow, down one bank
    and then down the other.
    """
    worth = {
        side: sum(one.gain for one in places if one.side == side) for side in ("left", "right")
    }
    sides = sorted(worth, key=lambda side: -worth[side])
    first = {SurveyWay.FOOT: 0, SurveyWay.BOAT: 1, SurveyWay.BANK: 2}

    def turn(number: int) -> tuple[float, ...]:
        one = places[number]
        flow = 0.0 if np.isnan(one.flow) else one.flow
        side = sides.index(one.side) if one.side in sides else -1
        return (first[SurveyWay(one.way)], flow, side, one.station)

    order = [0] * len(places)
    for turn_number, number in enumerate(sorted(range(len(places)), key=turn), start=1):
        order[number] = turn_number
    return order
