"""Channels: re-centring between the banks, widths, ownership."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from reachmap.base.errors import BuildError
from reachmap.base.words import Cover, Part, Side
from reachmap.ground.laying import lay_channels
from reachmap.markup.model import Bank, River
from tests.ground.scenes import drawing, pool_riffle, straight_trapezoid

RIVER = pool_riffle(length=900)
TRACED = RIVER.section_level(20.0)


def distance_to_middle(line):
    """Mean distance of a line from the middle between the true edges, ends left out."""
    left, right = RIVER.edges(TRACED)
    inner = slice(20, -20)
    mx, my = RIVER.line.from_station_offset(RIVER.line.station, (left + right) / 2)
    _, offset = line.to_station_offset(mx[inner], my[inner])
    return float(np.sqrt(np.mean(offset**2)))


@pytest.mark.slow
@settings(max_examples=8)
@given(jitter=st.floats(1.0, 6.0), seed=st.integers(0, 99))
def test_recentring_brings_a_jittered_line_near_the_true_middle(jitter, seed):
    from reachmap.base.centreline import Centreline

    drawn = drawing(RIVER, 20.0, jitter=jitter, seed=seed)
    rough = distance_to_middle(Centreline.along(drawn.main.line, 2.0))
    main = lay_channels(drawn, 2.0)[0]
    assert distance_to_middle(main.line) < min(rough, 2.0)
    assert distance_to_middle(main.line) < 0.9


def test_the_width_is_that_between_the_banks():
    left, right = RIVER.edges(TRACED)
    main = lay_channels(drawing(RIVER, 20.0, jitter=3.0), 2.0)[0]
    inner = slice(30, -30)
    beside, _ = RIVER.line.to_station_offset(main.line.x[inner], main.line.y[inner])
    at = np.interp(beside, RIVER.line.station, left - right)
    off = np.abs(main.width[inner] - at)
    assert (
        np.percentile(off, 80) < 2.0
    )  # where the true edge jumps round a bar, the drawn one eases
    assert np.median(off) < 0.6


def test_a_straight_drawing_gives_the_exact_axis():
    river = straight_trapezoid()
    main = lay_channels(drawing(river, 20.0, jitter=0.0), 2.0)[0]
    _, offset = river.line.to_station_offset(main.line.x, main.line.y)
    assert np.abs(offset).max() < 0.05
    assert main.line.length == pytest.approx(600, abs=0.1)


def test_one_drawn_bank_is_enough_for_an_axis():
    drawn = drawing(RIVER, 20.0, jitter=0.0)
    main = lay_channels(replace(drawn, banks=drawn.banks[:1]), 2.0)[0]
    assert main.left == pytest.approx(-main.right, abs=0.5)


def test_no_bank_at_all_is_a_fault_with_a_mend():
    with pytest.raises(BuildError, match="Draw at least one bank"):
        lay_channels(replace(drawing(RIVER, 20.0), banks=()), 2.0)


def boxed(x0, y0, x1, y1, side, name="bank"):
    ring = Polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return Bank(name, ring, side, Cover.GRAVEL, 1.0, np.nan, "")


def with_island():
    """A straight river, 40 m wide, with an island on river left and a side channel beyond it."""
    from tests.made import ORIGIN_X as X
    from tests.made import ORIGIN_Y as Y

    base = drawing(straight_trapezoid(), 20.0)
    banks = (
        boxed(X, Y + 40, X + 600, Y + 70, Side.LEFT, "left"),
        boxed(X, Y - 40, X + 600, Y - 10, Side.RIGHT, "right"),
        boxed(X + 200, Y + 10, X + 400, Y + 30, Side.ISLAND, "island"),
    )
    lines = (
        River("main", Part.MAIN, LineString([(X, Y + 8), (X + 300, Y + 1), (X + 600, Y + 12)])),
        River(
            "side",
            Part.SIDE,
            LineString(
                [(X + 180, Y + 25), (X + 230, Y + 36), (X + 370, Y + 33), (X + 420, Y + 25)]
            ),
        ),
    )
    return replace(base, banks=banks, rivers=lines)


def test_an_island_bounds_the_main_channel_and_the_side_channel():
    main, side = lay_channels(with_island(), 2.0)
    at = np.interp(300, main.line.station, main.width)
    assert at == pytest.approx(20, abs=1.0)  # from y = -10 to y = +10
    middle = len(side.line.station) // 2
    assert side.width[middle] == pytest.approx(10, abs=1.0)  # from +30 to +40
    assert not side.dry


def test_a_side_channel_drawn_across_a_bank_is_dry_and_narrow():
    from tests.made import ORIGIN_X as X
    from tests.made import ORIGIN_Y as Y

    drawn = with_island()
    across = River("swale", Part.SIDE, LineString([(X + 150, Y + 45), (X + 450, Y + 55)]))
    main, swale = lay_channels(replace(drawn, rivers=(drawn.rivers[0], across)), 2.0)
    assert swale.dry
    assert swale.median_width < main.median_width / 2
