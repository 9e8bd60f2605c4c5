"""Many banks are looked at together; each is told the same as if it were alone."""

import numpy as np
import pytest
from shapely import Point
from shapely.affinity import translate

from reachmap.base.units import from_si
from reachmap.base.words import Part, Side
from reachmap.markup import check_banks
from reachmap.markup.check_banks import left_shares, median_width
from reachmap.markup.config import read_plan
from reachmap.markup.drawing import Drawing, no_features
from reachmap.markup.features import Feature
from tests.markup.folders import CRS, LENGTH, box, line

RIVER = line((0, 0), (LENGTH, 0))


def drawn(*banks, river=RIVER) -> Drawing:
    """Return a drawing of banks, each outline and side."""
    features = no_features() | {
        "river": (Feature("river", "river", river, {"part": Part.MAIN}),),
        "banks": tuple(
            Feature("banks", f"bank {number}", outline, {"side": side})
            for number, (outline, side) in enumerate(banks, start=1)
        ),
    }
    return Drawing(crs=CRS, reach_toml=read_plan(""), features=features)


def test_each_bank_has_the_share_it_has_alone():
    # left, right, astride of the line with its near half on the left, beyond the line's end
    outlines = [
        box(0, 20, 100, 60),
        box(200, -60, 300, -20),
        box(400, -30, 500, 10),
        box(LENGTH + 50, 20, LENGTH + 90, 60),
    ]
    shares = left_shares(outlines, RIVER)
    assert shares[:2].tolist() == [1.0, 0.0]
    assert np.isnan(shares[3])
    alone = [left_shares([one], RIVER)[0] for one in outlines]
    assert np.array_equal(shares, alone, equal_nan=True)
    assert left_shares([], RIVER).size == 0


def test_only_what_lies_abreast_and_near_is_asked():
    # a bank on the left that reaches round the end of the line and back far off on the right
    hook = box(500, 10, LENGTH + 80, 40).union(box(LENGTH + 40, -200, LENGTH + 80, 40))
    assert left_shares([hook], RIVER) == pytest.approx([1.0])
    wide = box(0, 20, 100, 60).union(box(40, -300, 60, 30))
    assert 0.5 < left_shares([wide], RIVER)[0] < 1.0


def test_the_width_is_the_distance_between_the_nearest_banks_of_both_sides():
    # 20 m to the left everywhere; to the right 15 m along more than half of it, 40 m below
    banks = [(box(x, 20, x + 100, 60), Side.LEFT) for x in range(0, 600, 100)]
    banks += [(box(x, -50, x + 100, -15), Side.RIGHT) for x in range(0, 400, 100)]
    banks += [(box(x, -90, x + 100, -40), Side.RIGHT) for x in range(400, 600, 100)]
    assert median_width(drawn(*banks)) == pytest.approx(35.0)
    assert np.isnan(median_width(drawn(*[one for one in banks if one[1] is Side.LEFT])))


def test_one_bank_of_many_on_the_wrong_side_or_over_the_line_is_named():
    banks = [(box(x, 20, x + 20, 60), Side.LEFT) for x in range(0, 600, 20)]
    banks += [(translate(outline, 0, -80), Side.RIGHT) for outline, _ in banks]
    banks[7] = (banks[7][0], Side.RIGHT)
    outline = Point(RIVER.coords[0]).buffer(9.0)
    banks[40] = (translate(outline, 215, -8), Side.RIGHT)
    drawing = drawn(*banks)
    assert [one.where for one in check_banks.on_their_side(drawing)] == ["bank 8"]
    over = check_banks.over_the_line(drawing)
    assert [one.where for one in over] == ["bank 41"]
    # a chord 8 m from the middle of a circle of 9 m
    chord = from_si(2 * np.sqrt(9**2 - 8**2), "ft")
    assert f"covers {chord:.0f} ft of the river line" in over[0].found
