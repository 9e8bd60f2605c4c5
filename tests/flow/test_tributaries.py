"""Tributaries: where they join, and what the river carries above and below."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.words import Side, Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.notes import NoteKind, notes_of
from reachmap.flow.tributaries import LEAST_RADIUS_M, Tributary, mouth_of
from reachmap.water.channels import channel_graph
from reachmap.water.seams import find_seams
from reachmap.water.settings import ChannelSettings, SeamSettings
from tests.flow.noted import kinds
from tests.made import ORIGIN_X, ORIGIN_Y, made_ground
from tests.water.scenes import as_field


def ground():
    return made_ground(length=240, half_width=12, deep=1.4, margin=20)


def coming_in(station=120.0, *, share=0.3, down_to=0.0, side=1.0):
    """Return a tributary that comes straight in from the left and ends `down_to` m off the line."""
    y = ORIGIN_Y + side * np.array([60.0, down_to])
    return Tributary("Creek", share, (ORIGIN_X + station, ORIGIN_X + station), tuple(y))


def carried(answer, station):
    """Return what passes a section of the reach, which runs east [m3/s]."""
    column = int(np.argmin(np.abs(answer["x"].to_numpy() - ORIGIN_X - station)))
    part = (answer["depth"] * answer["east_speed"]).isel(x=column)
    return float(np.nansum(part.to_numpy()) * answer.attrs["cell"])


@pytest.mark.parametrize("down_to", [0.0, 5.0, 10.0])
def test_it_joins_at_the_bank_however_far_it_is_drawn(down_to):
    mouth = mouth_of(coming_in(down_to=down_to), ground())
    off = mouth.y - ORIGIN_Y
    assert 12.0 <= off <= 12.0 + 2.0
    assert mouth.station == pytest.approx(120, abs=2)
    assert mouth.radius_m == LEAST_RADIUS_M


def test_one_that_never_leaves_the_middle_joins_at_its_beginning():
    along = Tributary("", 0.1, (ORIGIN_X + 50, ORIGIN_X + 90), (ORIGIN_Y + 1, ORIGIN_Y))
    assert mouth_of(along, ground()).station == pytest.approx(50, abs=2)


@pytest.mark.compiled
def test_the_river_carries_the_rest_above_and_all_below():
    flow = FlowSettings(method="engine", tributaries=(coming_in(), coming_in(160, share=0.2)))
    whole = solve(ground(), [12.0], flow)
    answer = whole.isel(flow=0)
    for station, rate in ((60, 6.0), (145, 9.6), (200, 12.0)):
        assert carried(answer, station) == pytest.approx(rate, rel=0.01)
    assert float(answer["imbalance"]) <= 0.002
    first, second = (note for note in notes_of(whole) if note.kind == NoteKind.TRIBUTARY)
    assert (first.name, first.value("share")) == ("Creek", 0.3)
    assert first.station == pytest.approx(120, abs=0.5)
    assert second.value("share") == 0.2


@pytest.mark.compiled
def test_its_water_spreads_over_every_wet_channel_below():
    # an island parts the river below the mouth: both of its channels carry more than without
    made = made_ground(length=300, half_width=24, deep=1.3, margin=20)
    station, offset = made["station"].to_numpy(), made["offset"].to_numpy()
    island = 1.8 * np.exp(-(((station - 200) / 45) ** 4) - (offset / 6) ** 4)
    made["bed"] = (("y", "x"), made["bed"].to_numpy() + island)
    lone = solve(made, [24.0], FlowSettings(method="engine")).isel(flow=0)
    joined = solve(
        made, [34.0], FlowSettings(method="engine", tributaries=(coming_in(60, share=10 / 34),))
    ).isel(flow=0)
    column = int(np.argmin(np.abs(made["x"].to_numpy() - ORIGIN_X - 200)))
    off = made["offset"].isel(x=column).to_numpy()
    assert (joined["wet"].isel(x=column).to_numpy()[np.abs(off) < 3] != Wet.YES).all()
    for side in (off > 3, off < -3):
        less, more = (
            float(np.nansum((a["depth"] * a["east_speed"]).isel(x=column).to_numpy()[side]))
            for a in (lone, joined)
        )
        assert more > 1.15 * less


def test_the_preview_says_that_it_does_not_know_of_it():
    answer = solve(ground(), [12.0], FlowSettings(tributaries=(coming_in(),)))
    assert NoteKind.TRIBUTARY_NOT_MODELLED in kinds(answer)


@pytest.mark.compiled
def test_at_low_water_it_enters_at_the_edge_and_leaves_the_bar_dry():
    flow = FlowSettings(method="engine", tributaries=(coming_in(),))
    lone = solve(ground(), [2.0], FlowSettings(method="engine")).isel(flow=0)
    joined = solve(ground(), [2.0], flow).isel(flow=0)
    off = np.abs(ground()["offset"].to_numpy())
    edge = off[lone["wet"].to_numpy() == Wet.YES].max()
    assert edge < 10  # two metres or more of dry bar to the bank line at 12 m
    assert off[joined["wet"].to_numpy() == Wet.YES].max() <= edge + 2.0


@pytest.mark.compiled
@pytest.mark.parametrize("carved", [False, True])
def test_the_seam_below_a_mouth_lies_along_its_bank(carved):
    # In laboratory junctions slow water lies along the bank below the corner, at its widest a tenth
    # to a quarter of the channel's width (Best and Reid 1984, from memory); beyond it the rest runs
    # quicker for the narrowing.
    made = made_ground(length=300, half_width=20, deep=1.3, slope=0.001, cell=1.0, margin=40)
    station, offset = made["station"].to_numpy(), made["offset"].to_numpy()
    level = 100 - 0.001 * station
    bed = np.where(np.abs(offset) < 20, -1.3 * np.minimum(1, (20 - np.abs(offset)) / 2), 0.0)
    bed += np.maximum(np.abs(offset) - 20, 0) * 0.5 + level
    if carved:  # a side channel 12 m wide comes in square
        across = np.abs(station - 130)
        side = level - 1.3 * np.minimum(1, (6 - across) / 2) + 0.002 * np.maximum(offset - 20, 0)
        bed = np.where((across < 6) & (offset > 0), np.minimum(bed, side), bed)
    made["bed"] = (("y", "x"), bed)
    side_river = Tributary(
        "Creek", 0.35, (ORIGIN_X + 130, ORIGIN_X + 130), (ORIGIN_Y + 55, ORIGIN_Y)
    )
    flow = FlowSettings(method="engine", tributaries=(side_river,))
    water = solve(made, [33.0], flow).assign_coords(asked=("flow", ["33"]))
    field = as_field(made, water)
    seams = find_seams(field, channel_graph(field, ChannelSettings()), SeamSettings())
    below = [one for one in seams if one.points[-1, 0] > ORIGIN_X + 150]
    assert len(below) == 1
    off_bank = (20 - np.median(below[0].points[:, 1] - ORIGIN_Y)) / 40
    assert 0.08 < off_bank < 0.3
    assert below[0].slow_side is Side.LEFT
    assert below[0].from_junction
    assert below[0].slow_m_s < 0.4 * below[0].fast_m_s


def test_shares_that_leave_nothing_are_refused():
    with pytest.raises(ValueError, match="share"):
        coming_in(share=1.0)
    with pytest.raises(ValueError, match="add up"):
        FlowSettings(tributaries=(coming_in(share=0.6), coming_in(share=0.5)))
