"""The form's server without a browser: plain posts, strangers, photos, and kill -9."""

from __future__ import annotations

import math
import random
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
import urllib.request
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from reachmap.base.words import UnitSystem
from reachmap.logbook.store import TripLog
from reachmap.web.trip_form.photos import kind_of
from tests.web.trip_form.conftest import desk_of, serving_form

ROOT = Path(__file__).resolve().parents[3]
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def form(**fields):
    told = {"date": "2031-01-04", "time": "08:30", "zone": "America/Vancouver"} | fields
    return urllib.parse.urlencode(told).encode()


def test_without_scripts_a_plain_post_keeps_it_and_shows_it(served, tmp_path):
    status, _, body = served.ask("log", form(run="Ledge", uid="abcdef0123456789"), headers=FORM)
    assert status == 200
    assert b"<h2>Kept</h2>" in body
    with TripLog(tmp_path / "log.gpkg") as log:
        assert [(e.run, e.uid) for e in log.entries()] == [("Ledge", "abcdef0123456789")]


def test_pressing_twice_keeps_one_trip(served, tmp_path):
    for _ in range(2):
        assert served.ask("log", form(uid="abcdef0123456789"), headers=FORM)[0] == 200
    with TripLog(tmp_path / "log.gpkg") as log:
        assert len(log.entries()) == 1


def test_without_scripts_faults_come_back_beside_what_was_typed(served):
    words = form(flow="<b>", note="keep <i>me</i>")
    status, _, body = served.ask("log", words, headers=FORM)
    assert status == 422
    text = body.decode()
    assert "&#39;&lt;b&gt;&#39; is not a flow" in text
    assert "keep &lt;i&gt;me&lt;/i&gt;" in text
    assert "<b>" not in text


@pytest.mark.parametrize(
    "headers", [{"Origin": "http://elsewhere.example"}, {"Host": "elsewhere.example"}]
)
def test_strangers_keep_nothing(served, tmp_path, headers):
    assert served.ask("log", form(), headers=FORM | headers)[0] in (403, 421)
    assert not (tmp_path / "log.gpkg").exists()


def test_what_is_no_form_is_refused(served):
    for body in (b"\xff\xfe", b"a=1&" * 3000, b"note=" + b"x" * 2_000_001):
        assert served.ask("log", body, headers=FORM)[0] == 413


def test_a_damaged_log_is_told_and_left_alone(served, tmp_path):
    (tmp_path / "log.gpkg").write_bytes(b"no database" * 99)
    for body in (None, form()):
        status, _, told = served.ask("log", body, headers=FORM)
        assert status == 422
        assert b"cannot be read" in told
    assert (tmp_path / "log.gpkg").read_bytes() == b"no database" * 99


def test_only_pictures_are_kept_and_only_kept_ones_are_shown(served, tmp_path):
    assert served.ask("log/photo", b"<svg onload=alert(1)>")[0] == 415
    assert not (tmp_path / "photos").exists()
    told = served.told("log/photo", body=b"\xff\xd8\xff\xe0 made")
    status, headers, body = served.ask(f"log/photo/{Path(told['path']).name}")
    assert (status, headers["content-type"], body) == (200, "image/jpeg", b"\xff\xd8\xff\xe0 made")
    (tmp_path / "photos" / "mine.jpg").write_bytes(b"mine")
    for name in ("mine.jpg", "..%2flog.gpkg", "0123456789abcdef.svg"):
        assert served.ask(f"log/photo/{name}")[0] == 404
    assert served.ask("log/nothing.js")[0] == 404


def test_a_folder_of_pictures_that_leads_out_is_never_written_through(served, tmp_path):
    elsewhere = tmp_path.parent / f"{tmp_path.name}-elsewhere"
    elsewhere.mkdir()
    (tmp_path / "photos").symlink_to(elsewhere, target_is_directory=True)
    status, _, body = served.ask("log/photo", b"\xff\xd8\xff\xe0 made")
    assert status == 422
    assert b"leads out" in body
    assert not list(elsewhere.iterdir())


@pytest.mark.parametrize(
    ("body", "ending"),
    [
        (b"\xff\xd8\xff", "jpg"),
        (b"\x89PNG\r\n\x1a\n", "png"),
        (b"RIFF\0\0\0\0WEBP", "webp"),
        (b"\0\0\0\x18ftypheic", "heic"),
        (b"GIF89a", None),
        (b"", None),
    ],
)
def test_pictures_are_told_by_their_first_bytes(body, ending):
    assert kind_of(body) == ending


def test_an_entry_nobody_kept_cannot_be_taken_out(served):
    assert served.ask("log/remove", b"uid=none", headers=FORM)[0] == 404
    assert served.ask("log?edit=none")[0] == 200


SERVER = """
import sys
from pathlib import Path
from reachmap.web.trip_form.serve import form_app
from reachmap.web.serve import listen, page_address, serve
place = listen(0)
app = form_app(Path(sys.argv[1]), "token")
serve(app, place, lambda: print(page_address(place, "token"), flush=True))
"""


@contextmanager
def killed_at_the_end(folder):
    """Run the form's server for a folder, give its address, and kill it -9."""
    with subprocess.Popen(
        [sys.executable, "-c", SERVER, str(folder)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.kill()


def post(address, **fields):
    origin = {"Origin": "/".join(address.split("/")[:3])}
    request = urllib.request.Request(f"{address}log", data=form(**fields), headers=FORM | origin)
    with urllib.request.urlopen(request, timeout=20) as answer:
        return answer.read()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_kill_9_at_any_moment_loses_nothing_that_was_confirmed(tmp_path):
    confirmed, chance = [], random.Random(5)
    for round_ in range(4):
        with killed_at_the_end(tmp_path) as address:
            for number in range(3):
                run = f"round {round_} trip {number}"
                assert b"<h2>Kept</h2>" in post(address, run=run, date="2021-01-04")
                confirmed.append(run)
            _send_without_waiting(address, form(run=f"unanswered {round_}", date="2021-01-04"))
            time.sleep(chance.uniform(0, 0.05))
        with TripLog(tmp_path / "log.gpkg") as log:
            kept = [entry.run for entry in log.entries()]
        assert [run for run in kept if not run.startswith("unanswered")] == confirmed


def _send_without_waiting(address, body):
    """Send a trip whose answer nobody waits for: the kill falls while it is being kept."""
    where = urllib.parse.urlsplit(address)
    head = [
        f"POST {where.path}log HTTP/1.1",
        f"Host: {where.netloc}",
        f"Origin: http://{where.netloc}",
        f"Content-Type: {FORM['Content-Type']}",
        f"Content-Length: {len(body)}",
    ]
    with socket.create_connection((where.hostname, where.port), timeout=5) as line:
        line.sendall("\r\n".join([*head, "", ""]).encode() + body)


def test_the_form_opens_for_a_folder_of_any_units(tmp_path):
    with serving_form(tmp_path, units=UnitSystem.METRIC) as served:
        text = served.ask("log")[2].decode()
    assert "m³/s" in text
    assert "°C" in text


def test_numbers_are_read_in_the_units_the_form_was_shown_in(served, tmp_path):
    # the folder counts in feet by now; this form was shown before
    assert b'name="units" value="us"' in served.ask("log")[2]
    status, _, body = served.ask("log", form(clarity="2", units="metric"), headers=FORM)
    assert status == 200, body
    again = served.ask("log", form(clarity="lots", units="metric"), headers=FORM)[2]
    assert b'name="units" value="metric"' in again
    assert served.ask("log", form(clarity="2", units="ells"), headers=FORM)[0] == 200
    with TripLog(tmp_path / "log.gpkg") as log:
        assert sorted(entry.clarity_m for entry in log.entries()) == pytest.approx([0.6096, 2])


def test_a_change_keeps_the_gauges_flow_where_the_record_no_longer_knows_it(tmp_path):
    session = desk_of(tmp_path)
    typed = {"date": ["2031-01-05"], "time": ["08:30"], "uid": ["abcdef0123456789"]}
    assert session.keep(typed).flow == 40.0
    later = replace(session, flow_at=lambda _when: math.nan)
    assert later.keep(typed | {"touches": ["2"]}).flow == 40.0
    with TripLog(tmp_path / "log.gpkg") as log:
        (entry,) = log.entries()
    assert (entry.flow, entry.flow_from, entry.touches) == (40.0, "gauge", 2)
    moved = later.keep(typed | {"time": ["09:30"]})  # another hour: that flow is not known
    assert math.isnan(moved.flow)
