"""A river drafted from made terrains whose water, line and island are formulas."""

import numpy as np
import pytest
import shapely

from reachmap.base.errors import BuildError
from reachmap.draft import DraftSettings, draft_river
from tests.draft.terrains import creek, valley

pytestmark = pytest.mark.slow


def drafted(made, canopy=None, **more):
    return draft_river(
        made.place(**more),
        made.on,
        lambda grid, _h: canopy(grid) if canopy else None,
        DraftSettings(),
    )


def main_line(draft):
    (line,) = [one.shape for one in draft.features if one.values.get("part") == "main"]
    return line


def off_the_true(draft, made, trim=0.1):
    line, true = main_line(draft), shapely.LineString(made.line)
    at = np.linspace(trim, 1 - trim, 200) * line.length
    return shapely.distance(line.interpolate(at), true)


def banks_of(draft, side=None):
    return [
        one for one in draft.features if one.layer == "banks" and side in (None, one.values["side"])
    ]


@pytest.fixture(scope="module")
def plain():
    made = valley()
    return made, drafted(made)


def test_the_line_keeps_to_the_middle_of_the_water_and_runs_downstream(plain):
    made, draft = plain
    assert np.percentile(off_the_true(draft, made), 95) < 3.0
    line = main_line(draft)
    assert line.coords[0][0] < line.coords[-1][0]  # the valley falls to the east
    assert line.length > 0.9 * shapely.LineString(made.line).length
    assert draft.seen
    assert draft.width == pytest.approx(30, abs=3)
    assert draft.fall == pytest.approx(0.003 * 1600 / np.cos(np.arctan(0.6)), rel=0.25)


def test_it_follows_the_river_and_not_the_brook_of_the_side_valley(plain):
    made, draft = plain
    assert main_line(draft).bounds[3] < made.grid.north - 290


def test_banks_begin_at_the_true_edge_and_never_cover_the_water(plain):
    made, draft = plain
    whole = shapely.union_all([one.shape for one in banks_of(draft)])
    assert not whole.intersects(main_line(draft))
    wet = made.grid.rasterize([whole]).astype(bool) & made.wet
    assert wet.sum() < 0.02 * made.wet.sum()
    half = [main_line(draft).distance(one.shape) for one in banks_of(draft)]
    assert np.median([one for one in half if one < 25]) == pytest.approx(15, abs=2.5)


def test_each_bank_lies_on_the_side_it_says_and_overlaps_no_other(plain):
    _, draft = plain
    line = main_line(draft)
    for one in banks_of(draft):
        centre = one.shape.representative_point()
        at = line.project(centre)
        a, b = (np.array(line.interpolate(at + step).coords[0]) for step in (-2, 2))
        toward = np.array(centre.coords[0]) - a
        left = (b - a)[0] * toward[1] - (b - a)[1] * toward[0] > 0
        assert one.values["side"] == ("left" if left else "right")
    shapes = [one.shape for one in banks_of(draft)]
    assert sum(one.area for one in shapes) == pytest.approx(
        shapely.union_all(shapes).area, rel=1e-6
    )
    assert all(one.is_valid for one in shapes)


def test_without_a_canopy_growth_is_not_told_and_low_ground_is_a_bar(plain):
    _, draft = plain
    assert not draft.canopy
    assert {one.values.get("cover") for one in banks_of(draft)} <= {None, "gravel", "cutbank"}
    assert not any("cover_height" in one.values for one in banks_of(draft))


def test_rise_is_that_of_the_ground_over_the_water(plain):
    _, draft = plain
    rises = [one.values["rise"] for one in banks_of(draft) if "cover" not in one.values]
    assert np.median(rises) == pytest.approx(1.2 + 0.004 * 45, abs=0.15)


def test_an_island_is_an_island_with_a_channel_on_either_side():
    made = valley(island=True)
    draft = drafted(made)
    (island,) = banks_of(draft, "island")
    true = 0.9 * 90 * 9 * np.pi
    assert island.shape.area == pytest.approx(true, rel=0.2)
    assert island.values["rise"] == pytest.approx(1.0, abs=0.15)
    sides = [one for one in draft.features if one.values.get("part") == "side"]
    (side,) = sides
    ring = shapely.polygonize(
        shapely.get_parts(
            shapely.node(shapely.union_all([main_line(draft), side.shape.buffer(3).boundary]))
        )
    )
    assert not ring.is_empty
    y = island.shape.centroid.y
    there = main_line(draft).intersection(
        shapely.box(island.shape.centroid.x - 1, 0, island.shape.centroid.x + 1, 1e8)
    )
    beside = side.shape.intersection(
        shapely.box(island.shape.centroid.x - 1, 0, island.shape.centroid.x + 1, 1e8)
    )
    assert (there.centroid.y - y) * (beside.centroid.y - y) < 0


def test_trees_and_brush_come_from_the_canopy():
    made = valley(tributary=False)

    def canopy(grid):
        tall = np.where(grid.x[None, :] < 476_800, 12.0, 2.0)
        return np.broadcast_to(tall, grid.shape).copy()

    draft = drafted(made, canopy)
    assert draft.canopy
    upper = [one for one in banks_of(draft) if one.shape.centroid.x < 476_750]
    lower = [one for one in banks_of(draft) if one.shape.centroid.x > 476_850]
    assert {one.values["cover"] for one in upper} == {"trees"}
    assert {one.values["cover"] for one in lower} == {"brush"}
    assert {one.values["cover_height"] for one in upper} == {12.0}


@pytest.mark.parametrize(
    "made",
    [
        pytest.param(valley(bed=True, pools=0.4), id="a bed with pools, no water"),
        pytest.param(creek(), id="28 per mille on cells of 5 m"),
        pytest.param(valley(slope=0.028, half=6.0), id="28 per mille"),
        pytest.param(valley(slope=0.00002), id="as good as flat"),
    ],
)
def test_terrain_that_shows_no_water_or_hardly_falls_is_drafted_all_the_same(made):
    draft = drafted(made)
    assert np.percentile(off_the_true(draft, made), 90) < max(4.0, made.grid.cell)
    assert {one.values["side"] for one in banks_of(draft)} >= {"left", "right"}


def test_a_bed_with_pools_is_told_from_water_and_gives_no_crests():
    draft = drafted(valley(bed=True, pools=0.4))
    assert not draft.seen
    assert not [one for one in draft.features if one.layer in {"levels", "edges"}]


def test_an_edge_is_drafted_only_where_the_flow_of_the_flight_is_known(plain):
    made, without = plain
    assert not [one for one in without.features if one.layer == "edges"]
    (edge,) = [one for one in drafted(made, flow=21.0).features if one.layer == "edges"]
    assert edge.values == {"flow": 21.0}
    assert edge.shape.area == pytest.approx(made.wet.sum() * made.grid.cell**2, rel=0.05)


def test_a_river_line_drawn_already_is_followed_and_none_is_drafted(plain):
    made, _ = plain
    drawn = shapely.LineString(made.line + np.array([0.0, 4.0]))
    draft = drafted(made, line=drawn)
    assert not [one for one in draft.features if one.values.get("part") == "main"]
    assert {one.values["side"] for one in banks_of(draft)} == {"left", "right"}


def test_the_place_told_chooses_the_water():
    made = valley()
    brook = drafted(made, near=(476_620, made.grid.north - 170))
    assert main_line(brook).bounds[3] > made.grid.north - 260
    assert main_line(brook).length > 200


def test_terrain_without_any_ground_is_told_in_words():
    made = valley()
    with pytest.raises(BuildError, match="knows no ground"):
        draft_river(
            made.place(),
            lambda grid: np.full(grid.shape, np.nan),
            lambda _g, _h: None,
            DraftSettings(),
        )
