"""Which places are swung from, and with what they begin."""

from dataclasses import replace

import numpy as np
import pytest
from reachmap.angler.trial import try_swings

from reachmap.angler import trial as trial_module
from reachmap.angler.choose import Choice, find_aims
from reachmap.angler.stations import Stands
from tests.angler.hand import KIT
from tests.angler.test_trial import SETTINGS, good_depth, river, scene, stand, straight_swing


def test_places_between_scouts_begin_with_what_served_them(monkeypatch):
    """Along even water every place needs the same: the places between need one swing each."""
    view = river()
    count = 12
    one, pieces = stand(view)
    row = Stands(
        **{
            name: np.repeat(getattr(one, name), count, axis=0)
            for name in Stands.__dataclass_fields__
        }
    )
    row = replace(row, station=5.0 * np.arange(count))
    made = {}
    for every in (1, 4):
        settings = replace(SETTINGS, swing=replace(SETTINGS.swing, scout_every=every))
        swung = []
        base = straight_swing(lambda angle: 0.006 * (90 - angle) + 0.1, good_depth)

        def counting(throws, *rest, base=base, swung=swung):
            swung.append(len(throws))
            return base(throws, *rest)

        monkeypatch.setattr(trial_module, "swing_many", counting)
        aims = find_aims(view, row, pieces, KIT, settings.stations)
        whole = replace(
            scene(view, settings),
            stands=row,
            aims=aims,
            worth=np.ones(aims.cast_m.shape),
            rod=np.zeros(count, np.int32),
            head=np.zeros(count, np.int32),
        )
        choice = Choice(
            np.full(count, 3, np.int32),
            np.ones(count, np.int32),
            *(np.full(count, np.nan) for _ in range(3)),
        )
        found = try_swings(whole, choice)
        made[every] = (sum(swung), found.angle, found.judged.pace)
    assert made[4][0] < 0.6 * made[1][0]
    assert (made[4][1] == made[1][1]).all()
    assert made[4][2] == pytest.approx(made[1][2])


def test_no_swing_is_worked_out_where_no_cast_has_room(monkeypatch):
    view = river()
    monkeypatch.setattr(trial_module, "swing_many", None)  # would fail if it were called
    shut = replace(scene(view), castable=np.zeros(1, dtype=bool))
    choice = Choice(
        np.array([3], np.int32), np.ones(1, np.int32), *(np.full(1, np.nan) for _ in range(3))
    )
    found = try_swings(shut, choice)
    assert np.isnan(found.judged.seconds[0])
    assert np.isnan(found.path).all()
