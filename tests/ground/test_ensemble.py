"""The ensemble of grounds, survey suggestions, and fitting to notes."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point

from reachmap.base.errors import BuildError
from reachmap.base.words import COVER_CODES, Cover, SpeedHow
from reachmap.flow import FlowSettings, solve
from reachmap.ground import GroundSettings, build_ground, low_line
from reachmap.ground.cover_classes import CHANNEL
from reachmap.ground.ensemble import members
from reachmap.ground.fit import fit, gather, predicted
from reachmap.ground.scaling import scaled
from reachmap.ground.soundings import Doubt, Places, krige
from reachmap.ground.suggest import suggest, suggest_edges
from reachmap.markup.model import Edge, Speed
from tests.ground.scenes import drawing, flown, pool_riffle, with_soundings

SETTINGS = GroundSettings()
BRUSH = COVER_CODES[Cover.BRUSH]
RIVER = pool_riffle(length=700, bumps=0.15)
DRAWN = drawing(RIVER, 20.0)
FLOWN = flown(RIVER, DRAWN, 15.0)
GROUND = build_ground(DRAWN, FLOWN, SETTINGS)
SOUNDED = with_soundings(DRAWN, RIVER, 20.0, 20)
GROUND_SOUNDED = build_ground(SOUNDED, FLOWN, SETTINGS)


def run(ground, flows):
    return solve(ground, flows, FlowSettings())


def drawn(ground, markup, seed, *more, **doubt):
    both = (slice(None), slice(None))
    made = members(ground, markup, SETTINGS, seed, *more, **doubt)
    return [(bed.window(*both), rough.window(*both)) for bed, rough in made]


def spread(ground, markup):
    return np.stack([bed for bed, _ in drawn(ground, markup, 3)]).std(axis=0)


def under_water(ground):
    low = np.interp(ground["station"].to_numpy(), *low_line(ground))
    return (low - ground["bed"].to_numpy() > 0.1) & (ground["confidence"].to_numpy() < 0.9)


def test_members_differ_and_keep_what_is_known():
    made = drawn(GROUND, DRAWN, 1)
    assert len(made) == 12
    known = np.isfinite(GROUND["bed"].to_numpy())
    for bed, rough in made:
        assert (np.isfinite(bed) == known).all()
        assert np.nanmin(rough) > 0.01
    assert np.std([rough[known].mean() for _, rough in made]) > 0.002
    again = drawn(GROUND, DRAWN, 1)
    assert all(np.array_equal(a[0], b[0], equal_nan=True) for a, b in zip(made, again, strict=True))


def test_doubt_is_large_beneath_the_water_and_small_on_dry_ground():
    off = spread(GROUND, DRAWN)
    wet = under_water(GROUND)
    dry = GROUND["confidence"].to_numpy() >= 0.9
    assert np.median(off[wet]) > 0.12
    assert np.median(off[dry]) < 0.08


def test_soundings_take_doubt_away():
    before, after = spread(GROUND, DRAWN), spread(GROUND_SOUNDED, SOUNDED)
    wet = under_water(GROUND)
    assert np.mean(after[wet]) < 0.8 * np.mean(before[wet])


def test_the_doubt_is_honest():
    """Bed minus truth over the members' spread has a root mean square near one."""
    x, y = np.meshgrid(GROUND["x"].to_numpy(), GROUND["y"].to_numpy())
    true = RIVER.at(x, y)
    for ground, markup in ((GROUND, DRAWN), (GROUND_SOUNDED, SOUNDED)):
        wet = under_water(ground) & np.isfinite(true)
        score = (ground["bed"].to_numpy() - true)[wet] / np.maximum(
            spread(ground, markup)[wet], 0.02
        )
        assert 0.4 < np.sqrt(np.mean(np.clip(score, -5, 5) ** 2)) < 1.5


def upright(station, offset, depth):
    """Places of a form with neither pools nor bends."""
    return Places(station, offset, depth, np.zeros(depth.shape), np.zeros(depth.shape))


def test_soundings_on_one_bend_tell_how_the_next_one_leans():
    doubt = replace(Doubt.of(SETTINGS, 45.0), local=0.05)
    tilt = np.array([0.4, -0.3, 0.5])
    known = Places(
        np.array([50.0, 60, 70]), np.array([15.0, -15, 12]), np.ones(3), np.zeros(3), tilt
    )
    far = Places(np.array([4000.0]), np.array([15.0]), np.ones(1), np.zeros(1), np.array([0.4]))
    got = krige(known, -0.5 * tilt, far, doubt)  # the bed is deeper where the form tilts down
    assert got.value[0] < -0.1
    assert got.variance[0] < doubt.variance(far)[0]


def test_kriging_is_exact_at_an_errorless_sounding_and_nothing_far_away():
    doubt = Doubt(0.0, 0.0, 0.0, 0.0, 0.2, 100.0, 40.0, 8.0, 1e-6)
    known = upright(np.array([100.0, 200.0]), np.array([0.0, 5.0]), np.ones(2))
    asked = upright(np.array([100.0, 200.0, 5000.0]), np.array([0.0, 5.0, 0.0]), np.ones(3))
    got = krige(known, np.array([0.3, -0.1]), asked, doubt)
    assert got.value == pytest.approx([0.3, -0.1, 0.0], abs=1e-4)
    assert got.variance == pytest.approx([0.0, 0.0, 0.04], abs=1e-4)


def test_kriging_with_no_soundings_leaves_the_prior():
    doubt = Doubt.of(SETTINGS, 50.0)
    none = upright(np.empty(0), np.empty(0), np.empty(0))
    places = upright(np.array([10.0]), np.array([0.0]), np.array([1.0]))
    got = krige(none, np.empty(0), places, doubt)
    assert got.value == pytest.approx([0.0])
    assert got.variance == pytest.approx(doubt.variance(places))


@pytest.mark.slow
def test_ten_places_are_asked_for_and_the_first_helps_most():
    off = np.where(under_water(GROUND), spread(GROUND, DRAWN), 0.0)
    asked = suggest(GROUND, off, (off > 0).astype(float), SETTINGS)
    assert len(asked) == 10
    gains = [one.gain for one in asked]
    assert gains == sorted(gains, reverse=True)
    assert all(under_water(GROUND)[_cell(one)] for one in asked)
    apart = [np.hypot(a.x - b.x, a.y - b.y) for i, a in enumerate(asked) for b in asked[i + 1 :]]
    assert min(apart) > 4.0  # not ten times the same place


def _cell(one):
    row = int(np.argmin(np.abs(GROUND["y"].to_numpy() - one.y)))
    col = int(np.argmin(np.abs(GROUND["x"].to_numpy() - one.x)))
    return row, col


@pytest.mark.slow
def test_a_sounding_where_it_was_asked_for_helps_more_than_at_random():
    off = np.where(under_water(GROUND), spread(GROUND, DRAWN), 0.0)
    asked = suggest(GROUND, off, (off > 0).astype(float), SETTINGS, 6)
    left = [
        _doubt_left([(one.x, one.y) for one in asked]),
        np.mean([_doubt_left(_random_places(seed)) for seed in range(4)]),
    ]
    assert left[0] < left[1]


def _doubt_left(places):
    """Sum of the remaining variance of the bed after soundings at places."""
    wet = under_water(GROUND)
    station, offset = GROUND["station"].to_numpy(), GROUND["offset"].to_numpy()
    depth = np.interp(station, *low_line(GROUND)) - GROUND["bed"].to_numpy()
    cells = [_cell(type("P", (), {"x": x, "y": y})) for x, y in places]
    pick = tuple(np.array(cells).T)
    known = upright(station[pick], offset[pick], depth[pick])
    everywhere = upright(station[wet], offset[wet], depth[wet])
    doubt = Doubt.of(SETTINGS, 45.0)
    return float(krige(known, np.zeros(len(places)), everywhere, doubt).variance.sum())


def _random_places(seed):
    row, col = np.nonzero(under_water(GROUND))
    pick = np.random.default_rng(seed).choice(row.size, 6, replace=False)
    return list(
        zip(GROUND["x"].to_numpy()[col[pick]], GROUND["y"].to_numpy()[row[pick]], strict=True)
    )


def test_edges_are_asked_for_only_where_no_dem_knows_the_banks():
    assert suggest_edges(GROUND, SETTINGS) == []
    asked = suggest_edges(build_ground(DRAWN, None, SETTINGS), SETTINGS)
    assert len(asked) == 3
    assert all(one.kind == "edge" and one.gain > 0.5 for one in asked)
    stations = sorted(one.station for one in asked)
    assert min(np.diff(stations)) > 60


def test_nothing_is_asked_for_where_nothing_matters():
    assert (
        suggest(GROUND, np.zeros(GROUND["bed"].shape), np.zeros(GROUND["bed"].shape), SETTINGS)
        == []
    )


@pytest.mark.slow
@pytest.mark.parametrize("true_roughness", [0.028, 0.045])
def test_fit_finds_the_roughness_from_edges_and_soundings(true_roughness):
    """On a gentle river, far from critical flow, where the two solutions of the flow agree."""
    river = pool_riffle(length=700, roughness=true_roughness, slope=0.0008)
    drawn = with_soundings(drawing(river, 20.0, edge_flows=(60.0, 140.0)), river, 20.0, 8)
    ground = build_ground(drawn, flown(river, drawn, 15.0), SETTINGS)
    found = fit(ground, drawn, run, SETTINGS)
    assert found.roughness * SETTINGS.channel_roughness == pytest.approx(true_roughness, rel=0.15)
    assert found.after["edge"] < found.before["edge"]
    assert found.number["depth"] == len(drawn.soundings)


@pytest.mark.slow
def test_one_wrong_note_moves_the_fit_little():
    drawn = with_soundings(drawing(RIVER, 20.0, edge_flows=(60.0,)), RIVER, 20.0, 8)
    ground = build_ground(drawn, FLOWN, SETTINGS)
    clean = fit(ground, drawn, run, SETTINGS)
    x, y = RIVER.line.from_station_offset(np.array([300.0]), np.array([0.0]))
    lie = Speed(Point(x[0], y[0]), 9.0, 60.0, SpeedHow.SURFACE)
    spoilt = fit(ground, replace(drawn, speeds=(lie,)), run, SETTINGS)
    assert spoilt.roughness == pytest.approx(clean.roughness, rel=0.15)


def test_notes_are_gathered_by_kind_and_surface_speeds_are_reduced():
    x, y = RIVER.line.from_station_offset(np.array([200.0, 300.0]), np.array([0.0, 40.0]))
    speeds = (Speed(Point(x[0], y[0]), 1.0, 20.0, SpeedHow.SURFACE),)
    edges = (Edge(LineString([(x[1], y[1]), (x[1] + 10, y[1])]), 140.0, ""),)
    markup = replace(SOUNDED, speeds=speeds, edges=edges)
    notes = gather(GROUND_SOUNDED, markup, SETTINGS.fitting)
    assert notes.value[notes.kind == "speed"] == pytest.approx([0.85])
    assert (notes.kind == "edge").any()
    assert (notes.kind == "depth").sum() == len(SOUNDED.soundings)
    water = predicted(notes, GROUND_SOUNDED, run, 12.0)
    assert np.isfinite(water[notes.kind == "depth"]).all()


def test_scaling_moves_the_form_and_nothing_else():
    moved = scaled(GROUND, 1.2, 1.1, SETTINGS)
    wet, dry = under_water(GROUND), GROUND["confidence"].to_numpy() >= 0.9
    low = np.interp(GROUND["station"].to_numpy(), *low_line(GROUND))
    depth = low - GROUND["bed"].to_numpy()
    assert (low - moved["bed"].to_numpy())[wet] == pytest.approx(1.1 * depth[wet])
    assert moved["bed"].to_numpy()[dry] == pytest.approx(GROUND["bed"].to_numpy()[dry])
    bare = GROUND["cover"].to_numpy() == CHANNEL
    ratio = (moved["roughness"] / GROUND["roughness"]).to_numpy()
    assert ratio[bare] == pytest.approx(np.full(bare.sum(), 1.2))


def test_a_fit_with_no_notes_says_what_to_note():
    with pytest.raises(BuildError, match="nothing to fit to"):
        fit(GROUND, DRAWN, run, SETTINGS)


def test_scaling_leaves_the_bed_where_it_was_sounded():
    moved = scaled(GROUND_SOUNDED, 1.0, 1.2, SETTINGS)
    change = np.abs(moved["bed"].to_numpy() - GROUND_SOUNDED["bed"].to_numpy())
    low = np.interp(GROUND_SOUNDED["station"].to_numpy(), *low_line(GROUND_SOUNDED))
    below = low - GROUND_SOUNDED["bed"].to_numpy()
    cells = [_cell(one.place) for one in SOUNDED.soundings]
    shares = np.array([change[cell] / (0.2 * max(below[cell], 0.3)) for cell in cells])
    wet = under_water(GROUND_SOUNDED) & (below > 0.5)
    usual = np.median(change[wet] / (0.2 * below[wet]))
    assert np.median(shares) < 0.5 * usual


def logs_of(ground, **doubts):
    """Logarithms of the members' roughness over the ground's, a column of each code of cover."""
    made = drawn(ground, DRAWN, 5, 60, **doubts)
    rough, codes = ground["roughness"].to_numpy(), ground["cover"].to_numpy()
    known = np.isfinite(rough)
    cells = {code: np.flatnonzero(known & (codes == code))[0] for code in np.unique(codes[known])}
    return {
        int(code): np.array([np.log((n / rough).ravel()[cell]) for _, n in made])
        for code, cell in cells.items()
    }


def test_a_fit_narrows_the_roughness_of_the_members():
    for doubt in (0.12, 0.04):
        found = logs_of(GROUND, roughness_sd=doubt)[CHANNEL].std()
        assert found == pytest.approx(doubt, rel=0.3)


def test_each_class_of_cover_is_drawn_apart_by_its_own_doubt():
    cover = GROUND["cover"].to_numpy().copy()
    cover[:, : cover.shape[1] // 3] = BRUSH
    ground = GROUND.assign(cover=(("y", "x"), cover))
    found = logs_of(ground, roughness_sd=0.1, cover_sd={"brush": 0.05})
    assert found[CHANNEL].std() == pytest.approx(0.1, rel=0.3)
    assert found[BRUSH].std() == pytest.approx(0.05, rel=0.3)
    assert abs(np.corrcoef(found[CHANNEL], found[BRUSH])[0, 1]) < 0.4
    usual = logs_of(ground)[BRUSH].std()
    assert usual == pytest.approx(SETTINGS.spread.cover_doubt, rel=0.3)


def test_ground_of_unsaid_cover_is_as_doubtful_as_growth():
    cover = np.zeros_like(GROUND["cover"].to_numpy())
    found = logs_of(GROUND.assign(cover=(("y", "x"), cover)), roughness_sd=0.02)
    assert found[0].std() == pytest.approx(SETTINGS.spread.cover_doubt, rel=0.3)


def test_soundings_taken_already_are_not_asked_for_again():
    off = np.where(under_water(GROUND), spread(GROUND, DRAWN), 0.0)
    matters = (off > 0).astype(float)
    first = suggest(GROUND, off, matters, SETTINGS, 1)[0]
    taken = np.ravel_multi_index(_cell(first), off.shape)
    second = suggest(GROUND, off, matters, SETTINGS, 1, sounded=np.array([taken]))[0]
    apart = np.hypot(second.x - first.x, second.y - first.y)
    assert apart > SETTINGS.range_across_widths * float(np.median(GROUND["line_width"]))


def test_no_two_places_lie_within_a_cast_of_each_other():
    off = np.where(np.isfinite(GROUND["bed"].to_numpy()), 0.3, 0.0)
    for apart in (24.0, 60.0):
        asked = suggest(GROUND, off, (off > 0).astype(float), SETTINGS, 8, apart_m=apart)
        places = np.array([(one.x, one.y) for one in asked])
        gaps = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
        assert len(asked) > 3
        assert gaps[np.triu_indices(len(asked), 1)].min() >= apart
