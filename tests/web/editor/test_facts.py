"""The facts of reach.toml: what is changed, and that nothing else is."""

import tomllib

import pytest

from reachmap.markup.config import read_plan
from reachmap.markup.config.render import template
from reachmap.markup.read import read_markup
from reachmap.web.editor.reach_facts import FactsError, begun, facts_in, invented_in, with_facts
from reachmap.web.editor.session import EditorSession, prepare
from reachmap.web.editor.store import StaleError
from tests.web.editor.folders import bank, body, river, sounding
from tests.web.editor.test_store import sent

GOOD = {"traced_flow": "900", "slope": "0.002", "flows": "600, 900; 1400"}


def test_a_begun_river_has_no_invented_facts_and_says_what_is_missing():
    text = begun("My water")
    assert facts_in(text) == {
        "name": "My water", "units": "us", "traced_flow": "", "slope": "", "fall": "", "flows": "",
    }  # fmt: skip
    found = " ".join(fault.found for fault in read_plan(text).faults)
    assert "traced_flow is missing" in found
    assert "no flow to map" in found
    assert "# traced_flow = 1200" in text  # the example still tells how it is written


def test_the_starting_examples_are_told_as_such():
    assert invented_in(template()) == ["traced_flow", "slope", "flows"]
    assert invented_in(with_facts(template(), {"name": "Mine"})) == []
    assert "slope" not in invented_in(with_facts(template(), {"slope": "0.003"}))


def test_facts_are_read_back_by_the_plan():
    text = with_facts(begun("Mine"), {"traced_flow": "900", "slope": "0.002", "flows": "600, 900"})
    plan = read_plan(text).plan
    assert read_plan(text).faults == ()
    assert plan.traced_flow == pytest.approx(900 * 0.3048**3)
    assert plan.flows == pytest.approx([600 * 0.3048**3, 900 * 0.3048**3])
    assert plan.slope == 0.002


def test_every_other_line_and_comment_stays():
    before = template().splitlines()
    after = with_facts(template(), {"traced_flow": "950", "name": "Mine"}).splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 2
    assert all(a.partition("#")[2] == b.partition("#")[2] for a, b in changed)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("600, 900", [600, 900]), ("600 900", [600, 900]), ("600; 1,400", [600, "1,400"]),
        ("17 m3/s, 25 m3/s", ["17 m3/s", "25 m3/s"]), ("17.5", [17.5]),
    ],
)  # fmt: skip
def test_lists_of_flows_as_they_are_typed(typed, kept):
    assert tomllib.loads(with_facts(begun("a"), {"flows": typed}))["flows"]["list"] == kept


def test_a_list_takes_the_place_of_a_range_only_when_it_is_typed():
    ranged = begun("a").replace("[flows]", "[flows]\nfrom = 600\nto = 900\ncount = 4")
    told = facts_in(ranged)["flows"]
    assert told == "from 600; to 900; count 4"
    assert tomllib.loads(with_facts(ranged, {"flows": told}))["flows"] == {
        "from": 600,
        "to": 900,
        "count": 4,
    }
    assert tomllib.loads(with_facts(ranged, {"flows": "700"}))["flows"] == {"list": [700]}


@pytest.mark.parametrize(
    "name", ['a "quoted" \\ name', "<script>", "line\nbreak", "\u202egnp", "n" * 10_000, "'''"]
)
def test_hostile_names_stay_names(name):
    assert tomllib.loads(with_facts(begun("a"), {"name": name}))["name"] == name.strip()


@pytest.mark.parametrize("new", [{"wade_limit": "9"}, {"slope": 3}, {"name": "x" * 20_001}])
def test_what_is_no_fact_is_refused(new):
    with pytest.raises(FactsError):
        with_facts(template(), new)


def test_a_file_that_is_no_toml_is_left_alone(tmp_path):
    prepare(tmp_path)
    (tmp_path / "reach.toml").write_text("name = [unclosed")
    session = EditorSession(tmp_path)
    assert session.as_json()["facts"] is None
    with pytest.raises(FactsError, match="text editor"):
        session.save_facts(1, {"name": "a"})
    assert (tmp_path / "reach.toml").read_text() == "name = [unclosed"
    assert "not valid TOML" in session.check()["faults"][0]["found"]


def test_facts_of_a_stale_tab_or_over_another_editor_are_refused(tmp_path):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    assert session.save_facts(1, GOOD)["version"] == 2
    with pytest.raises(StaleError):
        session.save_facts(1, {"name": "late"})
    (tmp_path / "reach.toml").write_text(begun("edited by hand"))
    with pytest.raises(StaleError, match="another program"):
        session.save_facts(2, {"name": "late"})
    assert session.changed_outside()
    session.reload()
    assert session.as_json()["facts"]["name"] == "edited by hand"


def feet_drawn(folder):
    """Return a session of a folder in feet with numbers drawn, and its drawing as read."""
    prepare(folder)
    session = EditorSession(folder)
    facts = {"traced_flow": "900", "slope": "0.002", "flows": "600, 900"}
    version = session.save_facts(1, facts)["version"]
    marks = (river(), bank("left", id_="new-l"), bank("right", id_="new-r"), sounding())
    session.save(sent(*marks, version=version))
    return session, read_markup(folder)


def same_numbers(before, after):
    assert [one.rise_m for one in after.banks] == pytest.approx(
        [one.rise_m for one in before.banks]
    )
    one, other = before.soundings[0], after.soundings[0]
    assert (other.depth_m, other.flow) == pytest.approx((one.depth_m, one.flow))
    assert after.plan.traced_flow == pytest.approx(before.plan.traced_flow)
    assert after.plan.kit.rods[0].length_m == pytest.approx(before.plan.kit.rods[0].length_m)


def test_other_units_convert_the_numbers_drawn_and_back(tmp_path):
    session, before = feet_drawn(tmp_path)
    told = session.save_facts(3, {"units": "metric"})
    (drawn,) = [one for one in told["marks"] if one["layer"] == "soundings"]
    assert float(drawn["values"]["depth"]) == pytest.approx(3.5 * 0.3048, abs=1e-6)
    assert float(drawn["values"]["flow"]) == pytest.approx(900 * 0.3048**3, abs=1e-5)
    same_numbers(before, read_markup(tmp_path))
    assert session.check()["faults"] == []
    back = session.save_facts(told["version"], {"units": "us"})
    (drawn,) = [one for one in back["marks"] if one["layer"] == "soundings"]
    assert float(drawn["values"]["depth"]) == pytest.approx(3.5, abs=1e-5)
    same_numbers(before, read_markup(tmp_path))


@pytest.mark.parametrize("step", ["toml", "drawing"])
def test_a_program_ended_between_the_two_files_changes_no_number(tmp_path, monkeypatch, step):
    session, before = feet_drawn(tmp_path)

    class EndedError(BaseException):
        pass

    def ended(*_):
        raise EndedError

    if step == "toml":
        monkeypatch.setattr(session, "_write_toml", ended)
        monkeypatch.setattr(session.store, "_note_draft", lambda _: None)
    else:
        monkeypatch.setattr(session.store, "_write", ended)
    with pytest.raises(EndedError):
        session.save_facts(3, {"units": "metric"})
    again = EditorSession(tmp_path)
    assert again.store.units == ("us" if step == "toml" else "metric")
    same_numbers(before, read_markup(tmp_path))


@pytest.mark.parametrize("name", ["gauge/record.csv", "soundings.geojson"])
def test_units_do_not_change_under_numbers_of_other_files(tmp_path, name):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    session.save(sent(river(), bank("left", id_="new-l"), bank("right", id_="new-r")))
    (tmp_path / "gauge").mkdir(exist_ok=True)
    content = {
        "gauge/record.csv": "time,flow\n2024-01-01T00:00Z,900\n2024-01-01T01:00Z,910\n",
        "soundings.geojson": '{"type": "FeatureCollection", "features": [{"type": "Feature", '
        '"properties": {"depth": 3.5, "flow": 900}, "geometry": {"type": "Point", "coordinates": '
        "[-141.298, 46.2002]}}]}",
    }[name]
    (tmp_path / name).write_text(content)
    session.reload()
    before = (tmp_path / "reach.toml").read_bytes()
    with pytest.raises(FactsError, match="Numbers without a unit stand in"):
        session.save_facts(session.store.version, {"units": "metric"})
    assert (tmp_path / "reach.toml").read_bytes() == before


def test_other_units_change_no_number_that_was_typed(tmp_path):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    session.save_facts(1, {"traced_flow": "900", "fall": "6", "flows": "600, 900"})
    before = read_plan((tmp_path / "reach.toml").read_text())
    facts = session.save_facts(2, {"units": "metric"})["facts"]
    assert (facts["traced_flow"], facts["fall"]) == ("900 cfs", "6 ft")
    assert facts["flows"] == "600 cfs, 900 cfs"
    told = read_plan((tmp_path / "reach.toml").read_text())
    assert told.faults == ()
    assert before.fall_m == pytest.approx(6 * 0.3048)
    assert told.plan.traced_flow == pytest.approx(before.plan.traced_flow)
    assert told.plan.flows == pytest.approx(before.plan.flows)
    assert told.fall_m == pytest.approx(before.fall_m)


def test_faults_are_led_back_to_marks_places_and_facts(tmp_path):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    crossing = river()
    crossing["paths"][0][3] = [
        crossing["paths"][0][0][0] + 0.0005,
        crossing["paths"][0][0][1] - 0.001,
    ]
    crossing["paths"][0][4] = [crossing["paths"][0][1][0], crossing["paths"][0][1][1] + 0.002]
    trap = 'a (feature 9 of markup.gpkg) "trap"'
    session.save(sent(crossing, sounding(name=trap, depth="900")))
    faults = session.check()["faults"]
    assert {fault["fact"] for fault in faults if "fact" in fault} >= {
        "traced_flow",
        "flows",
        "slope",
    }
    by_mark = {fault["mark"]: fault for fault in faults if "mark" in fault}
    assert "crosses itself" in by_mark["new-river-1"]["found"]
    assert by_mark["new-river-1"]["place"][0] == pytest.approx(-141.3, abs=0.01)
    assert "900" in by_mark["new-sounding"]["found"]


def test_the_check_says_what_the_command_says(tmp_path):
    from reachmap.base.errors import MarkupError
    from reachmap.markup import read_markup

    prepare(tmp_path)
    session = EditorSession(tmp_path)
    session.save(sent(river()))
    with pytest.raises(MarkupError) as told:
        read_markup(tmp_path)
    found = [(one["where"], one["found"], one["fix"]) for one in session.check()["faults"]]
    assert found == [(one.where, one.found, one.fix) for one in told.value.faults]
    assert body([])["draft"] is None
