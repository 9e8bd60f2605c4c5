"""Structure against a made river in which one of each is planted, and what may be shown of it."""

import numpy as np
import pandas as pd
import pytest

from reachmap.base.words import COVER_CODES, Cover
from reachmap.base.words_runs import StructureKind, Support
from reachmap.water.bed_forms import BedForms, window_of
from reachmap.water.follow import follow_structure
from reachmap.water.lies import lie_odds
from reachmap.water.read_water import read_water
from reachmap.water.settings import WINTER, WaterSettings
from reachmap.water.structure import find_structure
from reachmap.water.structure_rows import structure_layer, support_of
from reachmap.water.structure_settings import LieSettings, StructureSettings
from tests.water import structure_river as river
from tests.water.scenes import as_field

pytestmark = pytest.mark.compiled

LIES, RULES, SCORE = LieSettings(), StructureSettings(), WaterSettings().score


def looked(ground, flow):
    field = as_field(ground, flow)
    lies = lie_odds(field, ground, LIES)
    return field, lies, find_structure(field, lies, LIES, RULES)


def masks(field, features):
    found = {kind: np.zeros(field.wet.shape, dtype=bool) for kind in StructureKind}
    for one in features:
        found[one.kind][one.place] |= one.mask
    return found


@pytest.fixture(scope="module")
def found():
    """Return for each flow the share of each planted structure found, and of plain bed taken."""
    shares, false = [], []
    for k in range(len(river.FLOWS)):
        field, _, features = looked(river.ground(), river.flows().isel(flow=[k]))
        window = window_of(river.ground(), field)
        there = masks(field, features)
        true = {kind: mask[window] & field.wet for kind, mask in river.planted().items()}
        shares.append({kind: there[kind][mask].mean() for kind, mask in true.items()})
        plain = river.plain_bed()[window] & field.wet
        false.append(np.any(list(there.values()), axis=0)[plain].mean())
    return shares, false


@pytest.mark.parametrize("kind", list(StructureKind))
def test_half_of_each_is_found_at_three_of_four_flows(found, kind):
    assert sum(shares[kind] >= 0.5 for shares in found[0]) >= 3


def test_hardly_any_plain_bed_is_taken_for_structure(found):
    assert max(found[1]) < 0.02


def test_the_rim_of_a_bucket_is_no_tailout():
    for k in range(len(river.FLOWS)):
        reading = read_water(river.ground(), river.flows().isel(flow=[k]), WaterSettings())
        lips = reading.layers["tailouts"]["lip_station_m"]
        assert not lips.between(276, 345).any()


def test_a_step_is_read_where_some_of_the_bed_is_not_known(monkeypatch):
    whole = BedForms.slope_along.func

    def with_gaps(forms):
        slope = whole(forms).copy()
        slope[::7] = np.nan
        return slope

    monkeypatch.setattr(BedForms, "slope_along", property(with_gaps))
    _, _, features = looked(river.ground(), river.flows().isel(flow=[1]))
    assert StructureKind.LEDGE_POOL in {one.kind for one in features}


def test_fish_lie_in_structure_and_not_on_plain_bed():
    for k in range(len(river.FLOWS)):
        field, lies, _ = looked(river.ground(), river.flows().isel(flow=[k]))
        window, odds = window_of(river.ground(), field), lies.raster[...]
        plain = odds[river.plain_bed()[window] & field.wet]
        assert (plain > 0.3).mean() < 0.02
        bucket = odds[river.planted()[StructureKind.BUCKET][window] & field.wet]
        assert np.median(bucket) > 10 * np.median(plain)


def test_a_river_without_structure_has_hardly_any():
    plain = river.ground(plain=True)
    for k in range(len(river.FLOWS)):
        field, lies, features = looked(plain, river.flows(plain=True).isel(flow=[k]))
        there = np.any(list(masks(field, features).values()), axis=0)
        assert there[field.wet].mean() < 0.02
        assert (lies.odds > 0.3).mean() < 0.005


def rows_with(confidence, cover=None):
    """Return the layer of the third flow over a bed known so well."""
    ground = river.ground().copy(deep=True)
    ground["confidence"][:] = confidence
    if cover is not None:
        ground["cover"] = (("y", "x"), np.where(cover, COVER_CODES[Cover.ROCK], ground["cover"]))
    field, lies, features = looked(ground, river.flows().isel(flow=[2]))
    codes = ground["cover"].to_numpy()[window_of(ground, field)]
    return structure_layer(field, lies, features, codes, WINTER, (RULES, SCORE))


def test_a_guessed_bed_shows_only_the_stones_that_were_drawn():
    assert len(rows_with(0.4)) == 0
    s, n = river._places()
    drawn = rows_with(0.4, cover=river._stones(s, n) > 0.2)
    assert set(drawn["kind"]) == {StructureKind.BOULDER_LEE, StructureKind.ROCK_GARDEN}
    assert set(drawn["support"]) == {Support.ROCKS}
    sounded = rows_with(0.7)
    assert set(sounded["support"]) == {Support.SOUNDINGS}
    assert set(rows_with(0.9)["support"]) == {Support.DEM}


def test_unknown_ground_supports_nothing():
    field, lies, features = looked(river.ground(), river.flows().isel(flow=[2]))
    blank = river.ground().copy(deep=True)
    blank["confidence"][:] = np.nan
    field = as_field(blank, river.flows().isel(flow=[2]))
    lies = lie_odds(field, blank, LIES)
    codes = blank["cover"].to_numpy()[window_of(blank, field)]
    assert all(support_of(field, lies, one, codes, RULES) is None for one in features)


def test_rows_tell_lie_and_swing():
    rows = rows_with(0.9)
    bucket = rows[rows["kind"] == StructureKind.BUCKET].iloc[0]
    assert bucket["station_m"] < 285 < bucket["station_end_m"]
    # the fish is in the hollow: planted 0.8 m deep, at x 285, y 2
    assert np.hypot(bucket["lie_x_m"] - 500_285, bucket["lie_y_m"] - 5_117_002) < 10
    assert bucket["lie_depth_m"] > bucket["depth_m"] - 0.3
    assert 0.3 < bucket["relief_m"] < 0.8
    within = rows.dropna(subset=["swing_out_m"])
    assert (within["swing_speed_m_s"] <= WINTER.speed_high_m_s).all()
    assert (within["swing_speed_m_s"] >= WINTER.speed_low_m_s).all()
    assert (within["swing_depth_m"] >= WINTER.depth_low_m).all()
    assert list(rows["code"]) == [f"H{k}" for k in range(1, len(rows) + 1)]
    assert (np.diff(rows["station_m"]) >= 0).all()
    assert (rows["holds"] == (rows["lie_odds"] >= RULES.lie_odds_low)).all()


def test_a_structure_keeps_its_code_and_tells_the_flows_it_holds_fish_at():
    layers = [
        read_water(river.ground(), river.flows().isel(flow=[k]), WaterSettings()).layers
        for k in range(len(river.FLOWS))
    ]
    stacked = pd.concat([one["structure"] for one in layers], ignore_index=True)
    followed = follow_structure(stacked, RULES.same_m)
    buckets = followed[followed["kind"] == StructureKind.BUCKET]
    assert list(buckets["flow"]) == list(river.FLOWS)
    assert len(set(buckets["code"])) == 1
    for _, same in followed.groupby("code"):
        assert same["flow"].is_unique
        assert len(set(same["kind"])) == 1
        held = same.loc[same["holds"], "flow"]
        if len(held):
            assert (same["holds_from_m3_s"] == held.min()).all()
            assert (same["holds_to_m3_s"] == held.max()).all()
        else:
            assert same["holds_from_m3_s"].isna().all()
    first = followed.drop_duplicates("code")
    order = first["code"].str[1:].astype(int).to_numpy()
    assert (np.diff(first["station_m"].to_numpy()[np.argsort(order)]) >= 0).all()


def test_mirrored_water_has_mirrored_structure():
    ground, flow = river.ground(), river.flows().isel(flow=[1])
    turned = ground.assign_coords(y=2 * 5_117_000.0 - ground["y"]).isel(y=slice(None, None, -1))
    turned = turned.assign(offset=-turned["offset"])
    other = flow.assign_coords(y=2 * 5_117_000.0 - flow["y"]).isel(y=slice(None, None, -1))
    other = other.assign(north_speed=-other["north_speed"])
    one, two = looked(ground, flow), looked(turned, other)
    a, b = masks(one[0], one[2]), masks(two[0], two[2])
    for kind in StructureKind:
        # ties between cells equally far off fall to one side: a cell here and there
        off = (a[kind] != b[kind][::-1]).sum()
        assert off <= max(0.1 * a[kind].sum(), 3)


def test_the_reading_holds_structure_and_lies():
    reading = read_water(river.ground(), river.flows().isel(flow=[1]), WaterSettings())
    assert {"bucket", "slot", "ledge_pool"} <= set(reading.layers["structure"]["kind"])
    assert reading.lies.odds.size == int(reading.lies.wet.sum())
