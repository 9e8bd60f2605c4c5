"""Notes of clarity rule the map as they rule the days: water, lane, step and fly by flow."""

from __future__ import annotations

import pytest

from reachmap.base.errors import MarkupError
from reachmap.gauge.clarity_data import BasisKind
from reachmap.markup import read_markup
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.water.clarity import clarity_at
from tests.markup.folders import make

FALLING = "clarity_m,flow_m3s,limb\n" + "".join(
    f"{16 / flow:.6f},{flow},falling\n" for flow in (10, 16, 25, 40, 60)
)
"""Five notes that lie on clarity = 16 / flow."""


@pytest.fixture
def folder(tmp_path):
    return make(tmp_path)


def test_the_folders_notes_say_how_far_one_sees_at_each_flow(folder):
    usual = settings_for(read_markup(folder), Options())
    assert usual.water.clarity_law is None
    (folder / "clarity.csv").write_text(FALLING, encoding="utf-8")
    told = settings_for(read_markup(folder), Options())
    for flow in (10.0, 20.0, 50.0):
        assert clarity_at(flow, told.water) == pytest.approx(16 / flow, rel=1e-3)
    assert told.angler.clarity_law == told.water.clarity_law
    assert told.water.clarity_law.basis.kind is BasisKind.LIMB_NOTES


def test_what_is_said_for_today_and_your_sightings_come_before_notes(folder):
    (folder / "clarity.csv").write_text(FALLING, encoding="utf-8")
    day = settings_for(read_markup(folder), Options(clarity_m=0.5))
    assert clarity_at(50.0, day.water) == 0.5
    toml = folder / "reach.toml"
    more = '\n[clarity]\nsightings = [[20, "1.6 m"], [80, "0.4 m"]]\n'
    toml.write_text(toml.read_text(encoding="utf-8") + more, encoding="utf-8")
    own = settings_for(read_markup(folder), Options())
    assert clarity_at(40.0, own.water) == pytest.approx(0.8)


def test_a_note_that_makes_no_sense_stops_with_its_row(folder):
    (folder / "clarity.csv").write_text(FALLING + "murky,30,falling\n", encoding="utf-8")
    with pytest.raises(MarkupError, match=r"clarity\.csv, row 7"):
        settings_for(read_markup(folder), Options())
