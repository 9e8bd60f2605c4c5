"""An echo sounder's depths: averaged exactly, sharing what they share, in bounded memory."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.ground import GroundSettings, build_ground
from reachmap.ground.layout import lay_out
from reachmap.ground.neighbourhood import krige_near, stretches
from reachmap.ground.settings import TrackSettings
from reachmap.ground.soundings import Doubt, Noise, Places, krige
from reachmap.ground.track_bins import binned
from reachmap.ground.used import Kind, Why, facts_of
from reachmap.markup.model import Origin, Track
from tests.ground.flown_river import DRAWN, FLOWN, GROUND, RIVER, SETTINGS, error, rms

LAID = lay_out(DRAWN, SETTINGS)
RULES = TrackSettings()
LEVEL = RIVER.section_level(20.0)


def drive(offsets, *, shared=0.0, own=0.0, name="a", step=1.0, seed=4):
    """Depths at 20 m3/s down the river, at a share of the half width to the left."""
    rng = np.random.default_rng(seed)
    at = np.arange(20.0, RIVER.line.length - 20, step)
    left, right = (np.interp(at, RIVER.line.station, edge) for edge in RIVER.edges(LEVEL))
    x, y = RIVER.line.from_station_offset(at, (left + right) / 2 + offsets * (left - right) / 2)
    depth = np.interp(at, RIVER.line.station, LEVEL) - RIVER.at(x, y) + shared
    return Track(name, x, y, depth + rng.normal(0, own, at.size), 20.0, "2031-01-05")


def test_means_over_bins_meet_a_plane_exactly():
    track = drive(0.2)
    x0, y0 = track.x.mean(), track.y.mean()

    def plane(x, y):
        return 2.0 + 0.001 * (x - x0) - 0.004 * (y - y0)

    made = binned(LAID, replace(track, depth_m=plane(track.x, track.y)), RULES)
    assert [one.depth_m for one in made] == pytest.approx(
        [plane(one.place.x, one.place.y) for one in made], abs=1e-9
    )


def test_bins_are_some_metres_long_and_hold_every_depth_once():
    track = drive(0.0, step=0.5)
    made = binned(LAID, track, RULES)
    assert sum(one.readings for one in made) == track.x.size
    assert 6.0 <= RULES.bin_m <= 10.0
    along = sum(one.readings for one in made) * 0.5 / len(made)
    assert along <= RULES.bin_m + 0.5
    assert {one.origin for one in made} == {Origin.TRACK}
    assert {one.group for one in made} == {"a"}


def test_a_bin_of_many_depths_is_surer_but_never_sure():
    few, many, most = (
        min(one.error_m for one in binned(LAID, drive(0.0, step=step), RULES))
        for step in (8.0, 2.0, 0.05)
    )
    assert many < few
    assert most == pytest.approx(many)
    assert most > RULES.bin_error_m


def along(count, seed=1, length=2000.0):
    """Places strewn along a river, uniform in station."""
    rng = np.random.default_rng(seed)
    depth = rng.uniform(0.4, 2.0, count)
    return Places(
        np.sort(rng.uniform(0, length, count)), rng.uniform(-15, 15, count), depth,
        depth * (depth - 1), rng.normal(0, 0.2, count),
    )  # fmt: skip


def test_an_error_that_a_set_shares_does_not_average_away():
    """A thousand depths of one set, all off by the same: the mean is no surer than that error."""
    only_common = Doubt(0.5, 0.0, 0.0, 0.0, 1e-6, 80.0, 30.0, 6.0, 0.1)
    place = Places(*(np.array([value]) for value in (50.0, 0.0, 1.0, 0.0, 0.0)))
    left = {}
    for count in (10, 1000):
        known = Places(
            np.linspace(0, 100, count), np.zeros(count), np.ones(count), np.zeros(count),
            np.zeros(count),
        )  # fmt: skip
        for shared in (0.0, 0.06):
            one_set = Noise(np.full(count, 0.1), np.zeros(count, dtype=np.int32), shared)
            got = krige(known, np.zeros(count), place, only_common, one_set)
            left[count, shared] = float(np.sqrt(got.variance[0]))
    assert left[1000, 0.0] < 0.01
    # exact: prior precision plus that of the mean, 1 / (1/.25 + 1/(.0036 + .01/n))
    assert left[1000, 0.06] == pytest.approx((1 / 0.25 + 1 / (0.06**2 + 0.1**2 / 1000)) ** -0.5)
    assert left[1000, 0.06] > 0.059


def test_two_sets_average_what_each_shares():
    only_common = Doubt(0.5, 0.0, 0.0, 0.0, 1e-6, 80.0, 30.0, 6.0, 0.1)
    place = Places(*(np.array([value]) for value in (50.0, 0.0, 1.0, 0.0, 0.0)))
    known = Places(
        np.linspace(0, 100, 400), np.zeros(400), np.ones(400), np.zeros(400), np.zeros(400)
    )
    spread = [
        krige(
            known, np.zeros(400), place, only_common,
            Noise(np.full(400, 0.01), (np.arange(400) % sets).astype(np.int32), 0.06),
        ).variance[0] ** 0.5
        for sets in (1, 2)
    ]  # fmt: skip
    assert spread[1] == pytest.approx(spread[0] / np.sqrt(2), rel=0.02)


def test_neighbours_give_nearly_what_all_soundings_together_give():
    known, wanted = along(300), along(900, seed=2)
    doubt = Doubt.of(GroundSettings(), 40.0)
    rng = np.random.default_rng(3)
    truth = rng.normal(0, 0.15, 300) + 0.1 * known.depth
    noise = Noise(np.full(300, 0.06), (np.arange(300) % 2).astype(np.int32), 0.06)
    whole = krige(known, truth, wanted, doubt, noise)
    few = replace(RULES, together=100, near=120)
    parts = krige_near(known, truth, wanted, doubt, noise, few)
    assert np.sqrt(np.mean((parts.value - whole.value) ** 2)) < 0.005
    assert np.abs(parts.value - whole.value).max() < 0.03
    assert np.sqrt(parts.variance) == pytest.approx(np.sqrt(whole.variance), abs=0.01)


def test_where_the_neighbours_are_all_there_are_the_answer_is_the_same():
    known, wanted = along(50), along(80, seed=2)
    doubt = Doubt.of(GroundSettings(), 40.0)
    noise = Noise.alike(50, 0.08)
    whole = krige(known, known.tilt, wanted, doubt, noise)
    parts = krige_near(
        known, known.tilt, wanted, doubt, noise, replace(RULES, together=10, near=50)
    )
    assert parts.value == pytest.approx(whole.value, abs=1e-9)
    assert parts.variance == pytest.approx(whole.variance, abs=1e-9)


def test_no_stretch_takes_more_soundings_than_it_may_and_every_place_is_in_one():
    known, wanted = along(5000), along(700, seed=2)
    seen = np.zeros(700, dtype=int)
    for cells, picked in stretches(known.station, wanted.station, RULES.near):
        assert picked.size == RULES.near
        assert np.unique(picked).size == picked.size
        seen[cells] += 1
    assert (seen == 1).all()


def test_a_track_brings_the_bed_beneath_it_to_the_true_one():
    noisy = drive(0.0, shared=0.04, own=0.1)
    ground = build_ground(replace(DRAWN, tracks=(noisy,)), FLOWN, SETTINGS)
    assert rms(error(ground, RIVER)) < 0.8 * rms(error(GROUND, RIVER))
    told = [one for one in facts_of(ground.attrs) if one.origin is Origin.TRACK]
    assert {one.kind for one in told} == {Kind.SOUNDING}
    used = sum(one.number for one in told if one.why is Why.USED)
    assert used > 0.95 * noisy.x.size
    assert len(told) <= 3  # by set and reason, not by depth
