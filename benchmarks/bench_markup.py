"""Every check and note of the banks by their number: time should grow with it, no faster."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Polygon

from reachmap.base.words import Part, Side
from reachmap.markup import check_banks
from reachmap.markup.config import read_plan
from reachmap.markup.drawing import Drawing, no_features
from reachmap.markup.features import Feature

LOOKED_AT = (
    check_banks.both_sides,
    check_banks.on_their_side,
    check_banks.over_the_line,
    check_banks.drawn_twice,
    check_banks.over_each_other,
    check_banks.width,
    check_banks.thin_overlaps,
    check_banks.bare_stretches,
)


def many_banks(count: int) -> Drawing:
    """Return a winding river with banks of 25 m one below the other on both sides."""

    def along(x: np.ndarray, offset: float) -> np.ndarray:
        return np.column_stack((500_000 + x, 5_117_000 + 80 * np.sin(x / 100) + offset))

    def bank(number: int, side: Side, sign: int) -> Feature:
        x = np.linspace(0, 25, 8) + 25 * (number // 2)
        outline = Polygon(np.vstack((along(x, sign * 20), along(x, sign * 50)[::-1])))
        return Feature("banks", f"bank {number}", outline, {"side": side})

    line = LineString(along(np.arange(0, 12.5 * count + 1, 10.0), 0))
    sides = ((Side.LEFT, 1), (Side.RIGHT, -1))
    features = no_features() | {
        "river": (Feature("river", "river", line, {"part": Part.MAIN}),),
        "banks": tuple(bank(number, *sides[number % 2]) for number in range(count)),
    }
    return Drawing(crs="EPSG:32607", asked=read_plan(""), features=features)


class Banks:
    """A drawing of 500 to 4,000 bank polygons."""

    params = [500, 1000, 2000, 4000]
    param_names = ["banks"]
    timeout = 300

    def setup(self, banks: int) -> None:
        self.drawing = many_banks(banks)

    def time_checks_of_the_banks(self, banks: int) -> None:
        for look in LOOKED_AT:
            look(self.drawing)
