"""A folder at an address, against fsspec's own stores: memory, a folder under a prefix, HTTP."""

from __future__ import annotations

import http.server
import sys
import threading
from functools import partial

import pytest

from reachmap.base.errors import MarkupError
from reachmap.pipeline.staged import address_of, staged

fsspec = pytest.importorskip("fsspec")


@pytest.fixture
def river():
    """A reach folder with an earlier build in fsspec's memory."""
    store = fsspec.filesystem("memory")
    files = {
        "reach.toml": "format = 1",
        "gauge/flow.csv": "time,flow",
        "written/report.json": "{}",
        "written/maps/index.html": "old",
        "written/maps/gone.html": "old",
        "written/mine.txt": "notes",
        ".written.lock": "",
    }
    for name, text in files.items():
        store.pipe_file(f"/river/{name}", text.encode())
    yield store
    store.rm("/river", recursive=True)


def build(stage, report="new"):
    (stage.folder / "written" / "maps" / "index.html").write_text("new", encoding="utf-8")
    (stage.folder / "written" / "maps" / "more.html").write_text("new", encoding="utf-8")
    (stage.folder / "written" / "table.csv").write_text("new", encoding="utf-8")
    (stage.folder / "written" / "maps" / "gone.html").unlink()
    (stage.folder / "written" / "report.json").write_text(report, encoding="utf-8")
    (stage.folder / ".written.lock").write_text("held", encoding="utf-8")
    (stage.folder / "reach.toml").write_text("spoiled", encoding="utf-8")


def texts(store, root="/river"):
    return {one.removeprefix(f"{root}/"): store.cat_file(one).decode() for one in store.find(root)}


def test_what_is_written_is_put_back_and_nothing_else_is_touched(river):
    with staged("memory://river") as stage:
        assert stage.folder.name == "river"
        assert not (stage.folder / ".written.lock").exists()
        build(stage)
        assert stage.put_back() == 5
    assert not stage.folder.exists()
    assert texts(river) == {
        "reach.toml": "format = 1",
        "gauge/flow.csv": "time,flow",
        "written/report.json": "new",
        "written/maps/index.html": "new",
        "written/maps/more.html": "new",
        "written/table.csv": "new",
        "written/mine.txt": "notes",
        ".written.lock": "",
    }


def test_what_the_reaches_of_a_folder_share_comes_along(river):
    river.pipe_file("/waters.toml", b"shared")
    with staged("memory://river") as stage:
        assert (stage.folder.parent / "waters.toml").read_text(encoding="utf-8") == "shared"
        assert stage.put_back() == 0
    river.rm("/waters.toml")


def test_the_report_is_put_last(river, monkeypatch):
    put = []
    monkeypatch.setattr(type(river), "put_file", lambda *asked, **_: put.append(asked[2]))
    with staged("memory://river") as stage:
        build(stage)
        stage.put_back()
    assert put[-1] == "/river/written/report.json"
    assert len(put) == 4


def test_a_build_put_there_meanwhile_is_not_overwritten(river):
    with staged("memory://river") as stage:
        build(stage)
        river.pipe_file("/river/written/report.json", b"another's")
        with pytest.raises(MarkupError, match="another build has changed"):
            stage.put_back()
    assert texts(river)["written/maps/index.html"] == "old"


def test_other_stores_get_each_file_aside_and_renamed(tmp_path, monkeypatch):
    """A folder of this machine stands for such a store: fsspec's `dir` over `file`."""
    from fsspec.implementations.dirfs import DirFileSystem
    from fsspec.implementations.local import LocalFileSystem

    home = tmp_path / "store" / "river"
    (home / "written" / "maps").mkdir(parents=True)
    for name in ("reach.toml", "written/report.json", "written/maps/index.html"):
        (home / name).write_text("old", encoding="utf-8")
    store, renamed = DirFileSystem(path=str(tmp_path / "store"), fs=LocalFileSystem()), []
    monkeypatch.setattr("reachmap.pipeline.staged._opened", lambda _: (store, "river"))
    move = DirFileSystem.mv

    def seen(self, aside, target, **more):
        renamed.append(target)
        assert ".part-" in aside
        return move(self, aside, target, **more)

    monkeypatch.setattr(DirFileSystem, "mv", seen)
    with staged("sftp://host/river") as stage:
        stage.check_takes_files()
        (stage.folder / "written" / "maps" / "index.html").write_text("new", encoding="utf-8")
        (stage.folder / "written" / "report.json").write_text("new", encoding="utf-8")
        assert stage.put_back() == 2
    assert renamed == ["river/written/maps/index.html", "river/written/report.json"]
    found = {one.name: one.read_text(encoding="utf-8") for one in home.rglob("*") if one.is_file()}
    assert found == {"reach.toml": "old", "index.html": "new", "report.json": "new"}


@pytest.fixture
def served(tmp_path):
    """A folder behind the standard library's HTTP server."""
    (tmp_path / "my river" / "gauge").mkdir(parents=True)
    (tmp_path / "my river" / "reach.toml").write_text("format = 1", encoding="utf-8")
    (tmp_path / "my river" / "gauge" / "flow 1.csv").write_text("time,flow", encoding="utf-8")

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path))
    )
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/my%20river"
    server.shutdown()
    server.server_close()


def test_http_is_read_and_never_written(served):
    pytest.importorskip("aiohttp")
    with staged(served) as stage:
        assert (stage.folder / "reach.toml").read_text(encoding="utf-8") == "format = 1"
        assert (stage.folder / "gauge" / "flow 1.csv").is_file()
        with pytest.raises(MarkupError, match="can be read, not written to"):
            stage.check_takes_files()


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("nosuch://river", "Protocol not known"),
        ("memory://nothing/here", "nothing is there"),
        ("sftp://host/river", "install"),  # what reads it is not in this environment
    ],
)
def test_what_cannot_be_reached_is_told_in_one_message(address, words):
    if address.startswith("sftp") and "paramiko" in sys.modules:
        pytest.skip("sftp can be read here")
    with pytest.raises(MarkupError, match=f"(?i){words}"), staged(address):
        pass


def test_without_the_extra_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "fsspec.core", None)
    wanted = pytest.raises(MarkupError, match=r"pip install \"reachmap\[stores\]\"")
    with wanted, staged("memory://river"):
        pass


def test_a_name_that_leads_out_of_the_folder_is_refused(river):
    river.pipe_file("/river/gauge/..%2F..%2Fout.csv", b"")
    with pytest.raises(MarkupError, match="lies outside the folder"), staged("memory://river"):
        pass


def test_a_store_that_takes_no_files_is_refused_before_any_work(river, monkeypatch):
    def refused(*_, **__):
        raise PermissionError

    monkeypatch.setattr(type(river), "pipe_file", refused)
    with staged("memory://river") as stage, pytest.raises(MarkupError, match="takes no files"):
        stage.check_takes_files()


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("s3://bucket/river/", "s3://bucket/river"),
        ("simplecache::s3://bucket/river", "simplecache::s3://bucket/river"),
        ("rivers/upper", ""),
        ("C:\\rivers\\upper", ""),
        ("C://rivers", ""),
        ("file:///rivers/upper", ""),
    ],
)
def test_addresses_and_paths_are_told_apart(text, address):
    assert address_of(text) == address
