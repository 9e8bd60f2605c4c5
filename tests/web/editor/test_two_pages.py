"""Two pages on one folder: whatever was acknowledged is in the file, or comes back."""

import json
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import geopandas as gpd
import pytest

from reachmap.base.lock import HeldError, locked
from reachmap.markup.write import MARKUP_FILE
from reachmap.web.editor import journal
from reachmap.web.editor import store as store_module
from reachmap.web.editor.opened import PAGE_LOCK, page_announced
from reachmap.web.editor.session import EditorSession, prepare
from reachmap.web.editor.store import LOCK, StaleError
from tests.web.editor.folders import bank, opened, plain, river, sent, sounding
from tests.web.editor.serving import serving

MERGER = Path(__file__).with_name("merger.py")
SAVES = 25
LINE = {"id": "new-line", "layer": "river", "shape": "LineString", "paths": [[[-141.3, 46.2]]]}


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "home"
    prepare(home)
    return home


def test_two_processes_that_save_side_by_side_lose_nothing_acknowledged(folder):
    both = [
        subprocess.Popen(
            [sys.executable, str(MERGER), str(folder), name, str(SAVES)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for name in ("east", "west")
    ]
    for one in both:
        assert one.stdout.readline() == "ready\n"
    for one in both:
        one.stdin.write("go\n")
        one.stdin.flush()
    said = [one.communicate(timeout=300)[0].split() for one in both]
    acknowledged = {name for words in said for name in words[:-1]}
    assert len(acknowledged) == 2 * SAVES
    found = set(gpd.read_file(folder / MARKUP_FILE, layer="soundings")["name"])
    assert acknowledged - found == set(), "acknowledged saves are gone"
    assert sum(int(words[-1]) for words in said) > 0, "they never met: the test shows nothing"


def test_the_second_save_from_one_state_is_refused_and_changes_nothing(folder):
    first, second = opened(folder), opened(folder)
    first.save(sent(river(1)))
    with pytest.raises(StaleError, match="Load the newer drawing"):
        second.save(sent(river(2)))
    assert plain(folder)[0][3]["name"] == "Line 1"
    second.reload()
    mine = [one.mark.as_json() for one in second.kept]
    second.save(sent(*mine, sounding(), version=second.version))
    assert [one[0] for one in plain(folder)] == ["river", "soundings"]


def test_a_line_begun_in_one_page_is_not_forgotten_by_a_save_of_the_other(folder):
    first, second = opened(folder), opened(folder)
    first.save(sent(draft=LINE | {"values": {}}))
    assert second.changed_outside()
    with pytest.raises(StaleError):
        second.save(sent(river(2)))
    second.reload()
    assert second.draft is not None
    assert second.draft.layer == "river"


def test_a_save_waits_for_the_one_under_way_and_says_who_holds_it(folder, monkeypatch):
    monkeypatch.setattr(store_module, "LOCK_WAIT_S", 0.2)
    store = opened(folder)
    with (
        locked(folder / LOCK, "a save of the drawing"),
        pytest.raises(HeldError, match=r"a save of the drawing \(process \d+"),
    ):
        store.save(sent(river()))
    store.save(sent(river()))
    assert len(plain(folder)) == 1


def test_the_look_and_the_write_are_under_one_lock(folder, monkeypatch):
    store, seen = opened(folder), []
    for module, name in (
        (store_module, "digest_of"),
        (store_module, "write_layers"),
        (journal, "note"),
    ):
        was = getattr(module, name)

        def held(*given, _was=was, _name=name, **more):
            try:
                with locked(folder / LOCK, "another process"):
                    pytest.fail(f"{_name} without the lock")
            except HeldError:
                seen.append(_name)
            return _was(*given, **more)

        monkeypatch.setattr(module, name, held)
    store.save(sent(river()))
    assert set(seen) == {"digest_of", "write_layers", "note"}
    assert seen.index("digest_of") < seen.index("note") < seen.index("write_layers")


def test_facts_and_what_lies_beneath_are_not_saved_over_either(folder):
    first, second = EditorSession(folder), EditorSession(folder)
    first.save_facts(1, {"name": "First"})
    with pytest.raises(StaleError):
        second.save_facts(1, {"name": "Second"})
    second.reload()
    first.save_basemap(first.store.version, {"tiles": "https://tiles.example/{z}/{x}/{y}.png"})
    assert second.changed_outside()
    with pytest.raises(StaleError, match="beneath"):
        second.save_basemap(second.store.version, {"tiles": ""})
    second.reload()
    second.save_basemap(second.store.version, {"tiles": ""})
    assert second.as_json()["facts"]["name"] == "First"


def test_the_page_that_loads_the_newer_drawing_keeps_its_own_in_a_file(folder):
    collection = {"type": "FeatureCollection", "features": [{"properties": {"name": "mine"}}]}
    with serving(folder) as served:
        for number in (1, 2):
            told = served.told("reload", json_body={"copy": collection})
            assert f"drawing-set-aside-{number}.geojson" in told["said"]
        assert served.told("reload", json_body={"copy": None})["said"] == ""
        assert served.ask("reload", json_body={"copy": {"type": "Point"}})[0] == 422
    for number in (1, 2):
        kept = json.loads((folder / f"drawing-set-aside-{number}.geojson").read_text())
        assert kept == collection


def test_a_second_page_is_told_who_has_the_folder_open(folder):
    with page_announced(folder, datetime(2026, 5, 4, 10, 32)) as first:  # noqa: DTZ001
        assert first == ""
        with page_announced(folder, datetime(2026, 5, 4, 11, 0)) as second:  # noqa: DTZ001
            assert "a drawing page open since 2026-05-04 10:32 (process" in second
        with locked(folder / LOCK, "a save"):  # both may save: the page's lock is another one
            pass
    with page_announced(folder, datetime(2026, 5, 4, 12, 0)) as third:  # noqa: DTZ001
        assert third == ""
    assert (folder / PAGE_LOCK).exists()


def test_what_is_said_of_another_page_is_shown_once(folder):
    opened(folder).save(sent(river(), bank()))
    with serving(folder, notice="another page") as served:
        assert served.told("drawing")["said"] == "another page"
        assert served.told("drawing")["said"] == ""
