"""A guide's party is planned for by its own bank and boat, whatever reach.toml says."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from reachmap.base.words import Side, UnitSystem
from reachmap.markup import read_markup
from reachmap.markup.config.party import read_party
from reachmap.markup.plan_parts import Outing
from reachmap.pipeline import guide
from reachmap.pipeline.kept_facts import BuildOnDemand
from reachmap.pipeline.stamp import Options
from reachmap.reach.guide import _outing_of

SAMPLE = Path(__file__).parents[2] / "data_samples" / "madeup_river"
OWN = Outing(bank=Side.LEFT, hours=4.0)


@pytest.mark.parametrize(
    ("day", "bank", "boat"),
    [("", None, False), ('bank = "right"', Side.RIGHT, False), ("boat = true", None, True)],
)
def test_the_partys_bank_and_boat_take_the_place_of_the_reachs(day, bank, boat):
    kit = read_markup(SAMPLE).plan.kit
    text = f'[day]\n{day}\n[[person]]\nname = "A"\n'
    read = read_party("party.toml", text, UnitSystem.US, kit)
    assert not read.faults
    got = _outing_of(read.keys, OWN)
    assert (got.bank, got.boat, got.hours) == (bank, boat, 4.0)
    assert _outing_of(None, OWN) is OWN


@pytest.fixture
def build(monkeypatch):
    """Return a build that is up to date, whose products are the outings they were made for."""
    made = []

    def make(reach, *_, **__):
        made.append(reach.plan.outing)
        return reach.plan.outing

    monkeypatch.setattr("reachmap.pipeline.order.make_product", make)
    monkeypatch.setattr("reachmap.pipeline.stamp.current_report", lambda *_: {})
    one = BuildOnDemand(SAMPLE, SAMPLE / "written", Options(), lambda *_: None, 1)
    return SimpleNamespace(one=one, made=made)


def test_a_product_is_scored_for_those_who_fish(build):
    own = build.one.reach.plan.outing
    assert build.one.product_for(own) is build.one.product_for(own)
    assert len(build.made) == 1  # the folder's own is made once
    theirs = Outing(bank=Side.RIGHT)
    assert build.one.product_for(theirs) == theirs
    assert build.one.reach.plan.outing == own


def test_facts_of_another_bank_are_kept_apart(build, monkeypatch):
    monkeypatch.setattr(guide, "facts_key", lambda *_: "key")
    monkeypatch.setattr(guide, "kept_facts", lambda path, *_: path)
    got = SimpleNamespace(out=Path("out"))
    every = [Outing(), Outing(bank=Side.RIGHT), Outing(boat=True), Outing(hours=2.0)]
    paths = [guide.guide_facts_of(got, build.one, one) for one in every]
    assert len(set(paths[:3])) == 3
    assert paths[3] == paths[0]  # the hours only cut the day
