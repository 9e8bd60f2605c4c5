"""`reachmap mark`: it begins, ends and refuses in plain words."""

import re
import signal
import socket
import subprocess
import sys
import urllib.request
import webbrowser
from pathlib import Path

import pytest

from reachmap.base.errors import MarkupError
from reachmap.cli.options import browse
from reachmap.web import serve
from reachmap.web.editor.serve import serve_editor

ROOT = Path(__file__).resolve().parents[3]


def command(*words):
    return [sys.executable, "-m", "reachmap", "mark", *map(str, words), "--no-browser"]


def read(address):
    with urllib.request.urlopen(address) as answer:
        return answer.read().decode()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent otherwise there")
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_it_makes_the_folder_serves_page_and_log_and_ends_cleanly(tmp_path, end):
    folder = tmp_path / "home_water"
    with subprocess.Popen(
        command(folder), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    ) as running:
        try:
            address = re.fullmatch(
                r"Draw here: (http://127\.0\.0\.1:\d+/\S{20,}/)\n", running.stdout.readline()
            )
            assert address
            page = read(address[1])
            assert 'href="log"' in page
            assert 'href="./"' in read(address[1] + "log")
            running.send_signal(end)
            out, err = running.communicate(timeout=20)
        finally:
            running.kill()
    assert err == ""
    if end is signal.SIGINT:
        assert running.returncode == 0
        assert f"Stopped. Your drawing is in {folder}" in out
    assert 'name = "home water"' in (folder / "reach.toml").read_text()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent otherwise there")
def test_a_second_page_on_one_folder_says_which_process_has_the_first(tmp_path):
    folder, both = tmp_path / "home", []
    try:
        for _ in range(2):
            both.append(
                subprocess.Popen(command(folder), stdout=subprocess.PIPE, text=True, cwd=ROOT)
            )
            address = both[-1].stdout.readline().removeprefix("Draw here: ").strip()
        holder = f"(process {both[0].pid} on "
        assert holder in read(address + "drawing")
        both[1].send_signal(signal.SIGINT)
        both[1].wait(20)
        out = both[1].stdout.read()
        assert "a drawing page open since 20" in out
        assert holder in out
    finally:
        for one in both:
            one.kill()
            one.communicate()


@pytest.mark.parametrize("what", ["a file", "a broken drawing", "a taken port"])
def test_what_it_cannot_open_is_told_in_words_with_exit_code_2(tmp_path, what):
    folder, more = tmp_path / "home", ()
    taken = socket.socket()
    if what == "a file":
        folder.write_text("no folder")
    elif what == "a broken drawing":
        folder.mkdir()
        (folder / "markup.gpkg").write_bytes(b"SQLite format 3\0 torn")
    else:
        taken.bind(("127.0.0.1", 0))
        more = ("--port", taken.getsockname()[1])
    with taken:
        done = subprocess.run(
            command(folder, *more), capture_output=True, text=True, cwd=ROOT, check=False
        )
    assert done.returncode == 2
    assert "1 thing to put right" in done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    if what == "a broken drawing":
        assert (folder / "markup.gpkg").read_bytes() == b"SQLite format 3\0 torn"


@pytest.mark.parametrize("browser", [True, False])
def test_the_browser_is_opened_only_when_it_is_wanted(tmp_path, monkeypatch, browser):
    opened = []
    monkeypatch.setattr(webbrowser, "open", opened.append)
    monkeypatch.setattr(serve, "serve", lambda _app, _place, ready: ready())
    serve_editor(tmp_path / "home", port=0, tell=print, browse=browse(browser))
    assert len(opened) == int(browser)
    assert all(one.startswith("http://127.0.0.1:") for one in opened)


def test_a_port_of_others_is_refused(monkeypatch, tmp_path):
    def refused(_port, _address):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(serve, "listen", refused)
    with pytest.raises(MarkupError, match=r"port 80: Permission denied\. Leave --port out"):
        serve_editor(tmp_path / "home", port=80, tell=print, browse=None)
