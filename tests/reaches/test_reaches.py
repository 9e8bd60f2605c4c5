"""The winding river, the river of islands and that of ledges are what they say they are."""

from functools import lru_cache

import numpy as np
import pytest

from reachmap.base.physics import GRAVITY
from reachmap.base.words import COVER_CODES, Cover, Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.notes import NoteKind
from tests.flow.noted import kinds
from tests.reaches import (
    ISLANDS_FLOWS,
    LEDGES_FLOWS,
    WINDING_FLOWS,
    islands_ground,
    ledges_ground,
    winding_ground,
)
from tests.reaches.islands import CHUTE, ISLANDS, RISE, chute_across, nearest_island
from tests.reaches.ledges import BOULDERS, LEDGES, SHELVES, boulders, ledges_line
from tests.reaches.uneven import held_level, uneven
from tests.reaches.winding import BENDS, HALF, winding_line

RIVERS = {
    "winding": (winding_ground, WINDING_FLOWS),
    "islands": (islands_ground, ISLANDS_FLOWS),
    "ledges": (ledges_ground, LEDGES_FLOWS),
}
ENGINE = FlowSettings(method="engine")
FINE = 2.0


def in_channel(ground):
    station = np.nan_to_num(ground["station"].to_numpy())
    half = 0.5 * np.interp(station, ground["line_station"], ground["line_width"])
    return np.abs(ground["offset"].to_numpy()) < half


def speed_of(one):
    return np.hypot(one["east_speed"], one["north_speed"]).to_numpy()


@lru_cache(maxsize=3)
def solved(name):
    """Return a river's ground and its water at all three flows, worked out once."""
    make, flows = RIVERS[name]
    ground = make(FINE)
    return ground, solve(ground, flows, ENGINE)


@pytest.fixture(params=RIVERS)
def river(request):
    return request.param, *solved(request.param)


@pytest.mark.parametrize("name", RIVERS)
@pytest.mark.parametrize(
    ("fine", "coarse"), [pytest.param(1.0, 2.0, marks=pytest.mark.slow), (2.0, 4.0)]
)
def test_a_river_is_the_same_at_any_cell_size(name, fine, coarse):
    make, _ = RIVERS[name]
    small, large = make(fine), make(coarse)
    rows, cols = large["bed"].shape
    block = small["bed"].to_numpy().reshape(rows, 2, cols, 2).mean(axis=(1, 3))
    apart = (block - large["bed"].to_numpy())[in_channel(large)]
    assert abs(np.nanmean(apart)) < 0.03
    assert np.nanmedian(np.abs(apart)) < (0.012 if fine == 1 else 0.03)
    assert np.array_equal(small["x"].to_numpy().reshape(-1, 2).mean(axis=1), large["x"])


@pytest.mark.parametrize("name", RIVERS)
def test_a_river_is_the_same_each_time_and_long_enough(name):
    make, flows = RIVERS[name]
    ground = make(4.0)
    assert make(4.0).identical(ground)
    assert 1200 <= float(ground["line_station"][-1]) <= 1600
    assert np.all(np.diff(flows) > 0)


def test_swells_are_long_and_bumps_are_short():
    station, offset = np.meshgrid(np.arange(0.0, 3000, 2), np.arange(-200.0, 200, 2))
    bed = uneven(station, offset, station, offset, 5)
    assert bed.std() == pytest.approx(0.155, abs=0.03)
    bed = (bed - bed.mean()) / bed.std()
    # a swell is still half itself where it should be a third, and gone at thrice that
    along, across = (bed[:, :-30] * bed[:, 30:]).mean(), (bed[:-5] * bed[5:]).mean()
    assert 0.2 < along < 0.6
    assert 0.2 < across < 0.6
    assert abs((bed[:-15] * bed[15:]).mean()) < 0.3
    assert (bed[:, :-5] * bed[:, 5:]).mean() > 0.8


def test_what_lies_below_holds_the_water():
    np.testing.assert_array_equal(held_level(np.array([5.0, 3, 4, 1, 2, 0])), [5, 4, 4, 2, 2, 0])


@pytest.mark.slow
def test_the_engine_keeps_the_water_of_every_flow(river):
    _, _, result = river
    assert float(result["imbalance"].max()) < 0.005
    np.testing.assert_allclose(result["outflow"], result["inflow"], rtol=0.005)
    assert NoteKind.NOT_AT_REST not in kinds(result)


@pytest.mark.slow
def test_low_water_leaves_much_that_is_shallow_and_slow(river):
    name, _, result = river
    low = result.isel(flow=0)
    wet = (low["wet"] == Wet.YES).to_numpy()
    depth, speed = low["depth"].to_numpy()[wet], speed_of(low)[wet]
    assert 0.3 < ((depth < 0.9) & (depth * speed < 0.33)).mean() < 0.6
    assert (speed > np.sqrt(GRAVITY * depth)).mean() < (0.02 if name == "ledges" else 0.003)
    assert 1.8 < depth.max() <= 3.0


def test_the_winding_river_turns_tightly():
    widths = 1 / (np.abs(winding_line().curvature).max() * 2 * HALF)
    assert 1.5 < widths < 2.5
    assert max(abs(bend.turn_deg) for bend in BENDS) == 110


def test_the_winding_river_is_deep_outside_and_its_outer_bank_is_cut():
    ground, line = winding_ground(FINE), winding_line()
    station, offset = (ground[name].to_numpy() for name in ("station", "offset"))
    bend = np.interp(np.nan_to_num(station) - 12, line.station, line.curvature) * 2 * HALF
    bed, cover = ground["bed"].to_numpy(), ground["cover"].to_numpy()
    to_inside = offset * np.sign(bend)
    tight = np.abs(bend) > 0.35
    outer = bed[tight & (np.abs(to_inside + 9) < 2)].mean()
    inner = bed[tight & (np.abs(to_inside - 9) < 2)].mean()
    assert inner - outer > 0.8
    rim, back = (
        bed[tight & (np.abs(to_inside + out) < 1)].mean() for out in (HALF + 0.5, HALF + 4)
    )
    assert back - rim > 0.5
    cut = cover == COVER_CODES[Cover.CUTBANK]
    assert (to_inside[cut] < 0).all()
    assert (np.abs(offset[cover == COVER_CODES[Cover.BRUSH]]) > HALF + 2).all()


@pytest.mark.slow
def test_islands_are_dry_and_part_the_low_water():
    ground, result = solved("islands")
    wet = (result["wet"].isel(flow=0) == Wet.YES).to_numpy()
    station, offset = (ground[name].to_numpy() for name in ("station", "offset"))
    level = result["level"].isel(flow=0).to_numpy()
    assert not wet[nearest_island(station, offset) > 2.5].any()
    for isle in ISLANDS:
        middle = (isle.head + isle.foot) / 2
        here = np.abs(station - middle) < 6
        left, right = (
            here & wet & (sign * (offset - isle.offset) > isle.breadth / 2) for sign in (1, -1)
        )
        east, north = (
            result[name].isel(flow=0).to_numpy() for name in ("east_speed", "north_speed")
        )
        assert np.hypot(east, north)[left].mean() > 0.1
        assert np.hypot(east, north)[right].mean() > 0.1
        top = ground["bed"].to_numpy()[here & (isle.inward(station, offset) > 4)].mean()
        assert top - np.nanmean(level[here]) == pytest.approx(RISE, abs=0.2)


@pytest.mark.slow
def test_the_side_channel_wakes_at_the_middle_flow():
    ground, result = solved("islands")
    station, offset = (ground[name].to_numpy() for name in ("station", "offset"))
    low, middle = ((result["wet"].isel(flow=k) == Wet.YES).to_numpy() for k in (0, 1))
    bed = (chute_across(station, offset) < 1.5) & (station > CHUTE[1][0]) & (station < CHUTE[4][0])
    assert low[bed].mean() < 0.02
    assert middle[bed].all()
    assert np.nanmean(speed_of(result.isel(flow=1))[bed]) > 0.2


def test_trees_stand_on_the_islands():
    ground = islands_ground(FINE)
    station, offset = (ground[name].to_numpy() for name in ("station", "offset"))
    inner = nearest_island(station, offset) > 5
    assert (ground["cover"].to_numpy()[inner] == COVER_CODES[Cover.TREES]).all()
    for isle in ISLANDS:
        assert 60 <= isle.foot - isle.head <= 150
        assert 15 <= isle.breadth <= 25


@pytest.mark.slow
def test_ledges_fall_from_bank_to_bank_and_not_straight_across():
    ground = ledges_ground(1.0)
    station, offset, bed = (ground[name].to_numpy() for name in ("station", "offset", "bed"))
    for ledge in LEDGES:
        lips = []
        for side in (-12.0, 0.0, 12.0):
            strip = np.abs(offset - side) < 1.0
            lip = float(ledge.lip(np.array(side)))
            above, below = (
                bed[strip & (np.abs(station - lip - out) < 1.0)].mean()
                for out in (-1.0, ledge.run + 0.5)
            )
            assert ledge.fall < above - below < ledge.fall + 0.7
            lips.append(lip)
        assert np.ptp(lips) > 4


@pytest.mark.slow
def test_water_drops_over_each_ledge_and_stands_deep_below():
    ground, result = solved("ledges")
    low = result.isel(flow=0)
    station, level, depth = (
        one.to_numpy() for one in (ground["station"], low["level"], low["depth"])
    )
    for ledge in LEDGES:
        past = station - ledge.station
        above = np.nanmedian(level[np.abs(past + 18) < 3])
        below = np.nanmedian(level[np.abs(past - 22) < 3])
        assert ledge.fall * 0.7 < above - below < ledge.fall + 0.5
        assert 1.2 < np.nanmax(depth[(past > 0) & (past < 130)]) < 2.2


def test_shelves_are_flat_rock_with_a_drop_off():
    ground = ledges_ground(FINE)
    station, offset, bed = (ground[name].to_numpy() for name in ("station", "offset", "bed"))
    width = np.interp(np.nan_to_num(station), ground["line_station"], ground["line_width"])
    rock = ground["cover"].to_numpy() == COVER_CODES[Cover.ROCK]
    for shelf in SHELVES:
        from_bank = width / 2 - shelf.side * offset
        here = (station > shelf.begin + 8) & (station < shelf.end - 8)
        on = here & (np.abs(from_bank - shelf.breadth + 3) < 2)
        off = here & (np.abs(from_bank - shelf.breadth - 4) < 2)
        assert rock[on].all()
        assert bed[on].std() < 0.2
        assert bed[on].mean() - bed[off].mean() > 0.3


@pytest.mark.slow
def test_boulders_keep_their_bulk_at_any_cell_size(monkeypatch):
    stones = boulders(ledges_line())
    assert stones.shape == (BOULDERS, 4)
    bulk = 2 / 3 * np.pi * (stones[:, 2] ** 2 * stones[:, 3]).sum()
    for cell in (1.0, 4.0):
        with_them = ledges_ground(cell)["bed"].to_numpy()
        with monkeypatch.context() as patch:
            patch.setattr("tests.reaches.ledges.BOULDERS", 0)
            without = ledges_ground(cell)["bed"].to_numpy()
        assert np.nansum(with_them - without) * cell**2 == pytest.approx(bulk, rel=0.1)
