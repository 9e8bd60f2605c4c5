"""The drawing on the disk: what is kept, what stays as it was, and who is refused."""

import json
import sqlite3
import stat

import geopandas as gpd
import pyogrio
import pytest
import shapely
from shapely import LineString, MultiLineString, Point

from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.write import MARKUP_FILE, write_layers
from reachmap.web.editor import journal
from reachmap.web.editor.schema import MessageError, read_drawing
from reachmap.web.editor.session import EditorSession, prepare
from reachmap.web.editor.store import StaleError
from tests.web.editor.folders import HOME, bank, body, opened, plain, river, sent, sounding

HOSTILE = (
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}{% raw %}",
    "\u202egnp.exe",
    "n" * 10_000,
    "'; DROP TABLE river; --",
    "line one\nline two\ttab",
    "\U0001f41f \u0635\u064a\u062f ]]> &amp;",
)


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "home"
    prepare(home)
    return home


def test_a_drawing_is_kept_and_found_again_just_as_it_was(folder):
    marks = [river(), bank("left", id_="a"), bank("right", id_="b"), sounding()]
    opened(folder).save(sent(*marks))
    found = plain(folder)
    assert [one[0] for one in found] == ["river", "banks", "banks", "soundings"]
    for (_, shape, paths, values), mark in zip(found, marks, strict=True):
        assert shape == mark["shape"]
        assert [[list(corner) for corner in path] for path in paths] == mark["paths"]
        assert {k: v for k, v in values.items() if v} == {
            k: v for k, v in mark["values"].items() if v
        }


def test_geopandas_reads_what_was_drawn(folder):
    opened(folder).save(sent(river(), sounding()))
    found = gpd.read_file(folder / MARKUP_FILE, layer="soundings")
    assert found.crs == "EPSG:4326"
    assert found["depth"].tolist() == [3.5]
    assert found["depth"].dtype == "float64"
    assert found.geometry.iloc[0].equals(Point(HOME[0] + 0.002, HOME[1] + 0.0002))


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(folder, text):
    opened(folder).save(sent(river(name=text), bank(note=text)))
    values = [one[3] for one in plain(folder)]
    assert values[0]["name"] == text
    assert values[1]["note"] == text


def test_null_signs_and_half_signs_are_left_out(folder):
    opened(folder).save(sent(river(name="a\0b\ud800c")))
    assert plain(folder)[0][3]["name"] == "ab?c"


def test_numbers_with_units_become_the_folders_own(folder):
    marks = [sounding("a", depth="1.2 m", flow="2,400"), sounding("b", depth="5 ft 10 in", flow="")]
    opened(folder).save(sent(*marks))
    found = gpd.read_file(folder / MARKUP_FILE, layer="soundings")
    assert found["depth"].tolist() == pytest.approx([1.2 / 0.3048, 5 + 10 / 12], abs=1e-6)
    assert found["flow"].fillna(-1).tolist() == [2400.0, -1]


def test_a_number_that_is_none_is_kept_as_typed_and_told_by_the_check(folder):
    session = EditorSession(folder)
    session.save(sent(river(), sounding("a", depth="knee"), sounding("b", depth="3")))
    told = [f for f in session.check()["faults"] if f.get("mark") == "a"]
    assert "knee" in told[0]["found"]
    depths = [one[3]["depth"] for one in plain(folder) if one[0] == "soundings"]
    assert depths == ["knee", "3"]


def foreign(folder):
    """Write a drawing as another program would have: other columns, parts, heights, CRS."""
    x, y = 500_000.0, 5_117_000.0
    whole = gpd.GeoDataFrame(
        {
            "name": ["two pieces", "one"],
            "part": ["main", "side"],
            "surveyed": [2021, 2022],
            "who": ["me", None],
        },
        geometry=[
            MultiLineString(
                [[(x, y, 3.1), (x + 70.123456789, y, 3)], [(x + 90, y, 2), (x + 200, y, 1)]]
            ),
            LineString([(x, y + 1 / 3), (x + 55, y + 70)]),
        ],
        crs="EPSG:32607",
    )
    path = folder / MARKUP_FILE
    path.unlink()
    whole.to_file(path, layer="river", driver="GPKG")
    gpd.GeoDataFrame({"a": [1.5]}, geometry=[Point(x, y)], crs="EPSG:32607").to_file(
        path, layer="my own layer", driver="GPKG"
    )
    return gpd.read_file(path, layer="river")


def test_what_another_program_made_stays_bit_by_bit(folder):
    before = foreign(folder)
    store = opened(folder)
    assert [one.home for one in store.kept] == ["river-1-1", "river-1-2", "river-2-1"]
    marks = [one.mark.as_json() for one in store.kept]
    third = marks[2] | {"values": marks[2]["values"] | {"name": "a new name"}}
    store.save(sent(*[json.loads(json.dumps(one)) for one in [*marks[:2], third, sounding()]]))
    after = gpd.read_file(folder / MARKUP_FILE, layer="river")
    assert after.crs == "EPSG:32607"
    assert after["name"].tolist() == ["two pieces", "a new name"]
    assert after["surveyed"].tolist() == [2021, 2022]
    assert after["surveyed"].dtype.kind == "i"
    for one, other in zip(before.geometry, after.geometry, strict=True):
        assert shapely.to_wkb(shapely.normalize(one)) == shapely.to_wkb(shapely.normalize(other))
    own = gpd.read_file(folder / MARKUP_FILE, layer="my own layer")
    assert own["a"].tolist() == [1.5]


def test_a_new_row_leaves_another_programs_columns_empty(folder):
    foreign(folder)
    store = opened(folder)
    marks = [json.loads(json.dumps(one.mark.as_json())) for one in store.kept]
    store.save(sent(*marks, river(7)))
    after = gpd.read_file(folder / MARKUP_FILE, layer="river")
    assert after["surveyed"].isna().tolist() == [False, False, True]
    assert plain(folder)[-1][3]["name"] == "Line 7"


def test_a_part_that_was_moved_comes_away_from_its_row(folder):
    foreign(folder)
    store = opened(folder)
    marks = [json.loads(json.dumps(one.mark.as_json())) for one in store.kept]
    marks[0]["paths"][0][0][0] += 1e-4
    store.save(sent(*marks))
    after = gpd.read_file(folder / MARKUP_FILE, layer="river")
    assert [shapely.get_num_geometries(one) for one in after.geometry] == [1, 1, 1]
    assert after["surveyed"].tolist() == [2021, 2021, 2022]


def test_a_row_without_a_shape_stays_until_it_is_taken_out(folder):
    frame = gpd.GeoDataFrame({"note": ["later"]}, geometry=[None], crs="EPSG:4326")
    write_layers(folder / MARKUP_FILE, {"hazards": frame})
    store = opened(folder)
    (kept,) = store.kept
    assert (kept.mark.shape, kept.mark.paths) == ("", ())
    blank = json.loads(json.dumps(kept.mark.as_json()))
    store.save(sent(blank, sounding()))
    assert gpd.read_file(folder / MARKUP_FILE, layer="hazards")["note"].tolist() == ["later"]
    store.save(sent(sounding(), version=2))
    assert len(gpd.read_file(folder / MARKUP_FILE, layer="hazards")) == 0


def test_layers_in_files_of_their_own_are_shown_and_never_touched(folder):
    path = folder / "banks.geojson"
    shape = shapely.box(HOME[0], HOME[1], HOME[0] + 0.01, HOME[1] + 0.001)
    gpd.GeoDataFrame(
        {"side": ["left"], "cover": ["sand"]}, geometry=[shape], crs="EPSG:4326"
    ).to_file(path)
    before = path.read_bytes()
    store = opened(folder)
    told = store.as_json()["elsewhere"]
    assert [other["file"] for other in told] == ["banks.geojson"]
    assert told[0]["marks"][0]["values"]["cover"] == "sand"
    store.save(sent(river()))
    assert path.read_bytes() == before
    assert [one[0] for one in plain(folder)] == ["river"]


def test_a_second_tab_that_is_stale_is_refused_and_nothing_is_lost(folder):
    store = opened(folder)
    assert store.save(sent(river(1))) == 2
    with pytest.raises(StaleError, match="another tab"):
        store.save(sent(river(2), version=1))
    assert [one[3]["name"] for one in plain(folder)] == ["Line 1"]


def test_a_file_changed_by_another_program_is_not_written_over(folder):
    store = opened(folder)
    store.save(sent(river(1)))
    with sqlite3.connect(folder / MARKUP_FILE) as other:
        other.execute("CREATE TABLE note (words TEXT)")
    other.close()
    assert store.changed_outside()
    with pytest.raises(StaleError, match="another program"):
        store.save(sent(river(2), version=2))
    store.reload()
    assert store.save(sent(river(2), version=store.version)) == 4
    assert "note" in {
        row[0]
        for row in sqlite3.connect(folder / MARKUP_FILE).execute("SELECT name FROM sqlite_master")
    }


def test_layers_that_did_not_change_are_not_written_anew(folder, monkeypatch):
    store = opened(folder)
    store.save(sent(river(), sounding()))
    written = []

    def watched(path, layers, **more):
        written.append(sorted(layers))
        return write_layers(path, layers, **more)

    monkeypatch.setattr("reachmap.web.editor.store.write_layers", watched)
    store.save(sent(river(), sounding(depth="4"), version=2))
    store.save(sent(river(), sounding(depth="4"), version=3))
    assert written == [["soundings"]]


def test_what_the_program_had_noted_but_not_written_comes_back(folder, monkeypatch):
    store = opened(folder)
    store.save(sent(river()))

    def ended(*_args, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr("reachmap.web.editor.store.write_layers", ended)
    with pytest.raises(KeyboardInterrupt):
        store.save(sent(river(), sounding(depth="1,200 cm", flow="2,400"), version=2))
    monkeypatch.undo()
    assert (folder / journal.JOURNAL).exists()
    again = opened(folder)
    assert "Everything you had drawn is here again" in again.settled.said
    assert [one.mark.layer for one in again.kept] == ["river", "soundings"]
    assert not (folder / journal.JOURNAL).exists()


def test_a_program_ended_after_writing_and_before_forgetting_changes_nothing(folder, monkeypatch):
    store = opened(folder)
    monkeypatch.setattr("reachmap.web.editor.journal.forget", lambda _folder: None)
    store.save(sent(river(), sounding(depth="1.2 m", flow="2,400")))
    monkeypatch.undo()
    assert (folder / journal.JOURNAL).exists()
    again = opened(folder)
    assert again.settled.said == ""
    assert len(again.kept) == 2
    assert not (folder / journal.JOURNAL).exists()


def test_notes_that_fit_no_file_are_set_aside_not_lost(folder, monkeypatch):
    store = opened(folder)
    store.save(sent(river(1)))
    monkeypatch.setattr("reachmap.web.editor.journal.forget", lambda _folder: None)
    store.save(sent(river(2), version=2))
    monkeypatch.undo()
    layers = {"river": gpd.read_file(folder / MARKUP_FILE, layer="river").assign(name="Changed")}
    write_layers(folder / MARKUP_FILE, layers)
    again = opened(folder)
    assert "drawing-brought-back-1.json" in again.settled.said
    assert "Line 2" in (folder / "drawing-brought-back-1.json").read_text()
    assert [one.mark.values["name"] for one in again.kept] == ["Changed"]


def test_a_notebook_that_cannot_be_read_is_set_aside(folder):
    (folder / journal.JOURNAL).write_text("{half")
    assert "brought-back-1" in opened(folder).settled.said
    assert (folder / "drawing-brought-back-1.json").read_text() == "{half"


def test_the_line_that_is_being_drawn_is_kept_too(folder):
    draft = river(9) | {"id": "new-draft", "paths": [river()["paths"][0][:1]]}
    opened(folder).save(sent(river(1), draft=draft))
    again = opened(folder)
    assert again.draft is not None
    assert again.draft.paths[0] == tuple(tuple(corner) for corner in draft["paths"][0])
    again.save(sent(*[json.loads(json.dumps(one.mark.as_json())) for one in again.kept]))
    assert opened(folder).draft is None


def test_a_file_open_in_another_program_is_told_and_the_change_is_noted(folder):
    store = opened(folder)
    other = sqlite3.connect(folder / MARKUP_FILE)
    other.execute("PRAGMA journal_mode=WAL")
    other.execute("CREATE TABLE held (a)")
    other.execute("BEGIN IMMEDIATE")
    store.reload()
    with pytest.raises(MarkupError, match="another program has it open"):
        store.save(sent(river(5), version=2))
    other.rollback()
    other.close()
    assert "Line 5" in (folder / journal.JOURNAL).read_text()


@pytest.mark.parametrize(
    "wrong",
    [
        b"", b"[]", b"{}", b"\xff", b'{"version": 1, "marks": 3}',
        b'{"version": true, "marks": []}',
        json.dumps(body([river(), river()])).encode(),
        json.dumps(body([river() | {"layer": "roads"}])).encode(),
        json.dumps(body([river() | {"shape": "Circle"}])).encode(),
        json.dumps(body([river() | {"paths": [[[1, 2]]]}])).encode(),
        json.dumps(body([river() | {"paths": [[[1, 2], [1, 95]]]}])).encode(),
        json.dumps(body([river() | {"paths": [[[1, 2], [1, None]]]}])).encode(),
        json.dumps(body([river() | {"values": {"colour": "red"}}])).encode(),
        json.dumps(body([river() | {"values": {"name": 3}}])).encode(),
        json.dumps(body([river(name="x" * 20_001)])).encode(),
        json.dumps(body([river() | {"paths": [[[0, 0]] * 400_001]}])).encode(),
        b'{"version": 1, "marks": [], "draft": ' + b"[" * 100_000,
    ],
)  # fmt: skip
def test_what_is_no_drawing_is_refused_whole(folder, wrong):
    with pytest.raises(MessageError):
        opened(folder).save(read_drawing(wrong))
    assert plain(folder) == []


def test_nobody_else_may_read_less_or_more_than_before(folder):
    path = folder / MARKUP_FILE
    before = stat.S_IMODE(path.stat().st_mode)
    opened(folder).save(sent(river()))
    assert stat.S_IMODE(path.stat().st_mode) == before


def test_the_whole_folder_reads_well_after_drawing(folder):
    store = opened(folder)
    store.save(sent(river(), bank("left", id_="a"), bank("right", id_="b")))
    session = EditorSession(folder)
    version = session.store.version
    session.save_facts(version, {"traced_flow": "900", "slope": "0.002", "flows": "600, 900"})
    assert session.check()["faults"] == []
    markup = read_markup(folder)
    assert [str(one.side) for one in markup.banks] == ["left", "right"]
    assert {str(name) for name, _ in pyogrio.list_layers(folder / MARKUP_FILE)} >= {"river", "runs"}
