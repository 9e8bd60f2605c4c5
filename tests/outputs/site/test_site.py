"""The installable page on a static host, in a real Chromium: kept, without net, renewed."""

from __future__ import annotations

import functools
import hashlib
import http.server
import io
import json
import re
import shutil
import threading
from contextlib import contextmanager

import pytest
from PIL import Image
from playwright.sync_api import expect

from reachmap.outputs.site import write_site
from reachmap.outputs.site.icons import icon
from reachmap.outputs.webmap import MapSettings
from tests.browser import running_browser
from tests.outputs.made_log import with_log
from tests.outputs.made_product import made_product

DAY, NEXT = "2031-01-05", "2031-01-06"


@pytest.fixture(scope="module")
def product():
    return made_product()


@pytest.fixture(scope="module")
def site(product, tmp_path_factory):
    folder = tmp_path_factory.mktemp("site")
    write_site(product, folder, MapSettings(), DAY)
    return folder


@pytest.fixture(scope="module")
def renewed(product, tmp_path_factory):
    folder = tmp_path_factory.mktemp("renewed")
    write_site(product, folder, MapSettings(), NEXT)
    return folder


@pytest.fixture(scope="module")
def browser():
    with running_browser() as running:
        yield running


class Quiet(http.server.SimpleHTTPRequestHandler):
    """A static host that lets browsers keep files for an hour."""

    def log_message(self, *_):
        """Print nothing."""

    def end_headers(self):
        """Say that a file may be kept: an old one must not come out of the browser's own cache."""
        self.send_header("Cache-Control", "max-age=3600")
        super().end_headers()


@contextmanager
def hosted(folder):
    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Quiet, directory=folder)
    )
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()


def ready(page):
    page.wait_for_selector("html[data-reach=ready]", state="attached", timeout=20000)


def chip(page):
    return page.locator("#site-kept")


def test_every_file_is_named_with_its_digest_and_nobody_else_s(site):
    keeper = (site / "sw.js").read_text(encoding="utf-8")
    files = json.loads(re.search(r"const FILES = (\{.*?\});", keeper)[1])
    assert set(files) == {p.name for p in site.iterdir()} - {"sw.js", "robots.txt"}
    for name, digest in files.items():
        assert hashlib.sha256((site / name).read_bytes()).hexdigest() == digest
    assert "@@" not in keeper
    assert "http" not in keeper


def test_the_manifest_names_what_a_browser_asks_for(site):
    manifest = json.loads((site / "manifest.webmanifest").read_text(encoding="utf-8"))
    assert manifest["name"] == "Made-up reach"
    assert manifest["display"] == "standalone"
    assert (site / manifest["start_url"]).is_file()
    for told in manifest["icons"]:
        with Image.open(site / told["src"]) as picture:
            assert f"{picture.width}x{picture.height}" == told["sizes"]
            assert picture.format == "PNG"


def test_what_matters_of_the_icon_lies_in_the_inner_circle():
    side = 200
    with Image.open(io.BytesIO(icon(side))) as picture:
        pixels = picture.convert("RGB").load()
    corner = pixels[0, 0]
    for x in range(0, side, 4):
        for y in range(0, side, 4):
            if pixels[x, y] != corner:  # W3C: a maskable icon's circle is 0.4 of its side
                assert ((x - side / 2) ** 2 + (y - side / 2) ** 2) ** 0.5 <= 0.4 * side + 1


def test_no_search_engine_is_let_in_and_no_third_party_named(site):
    page = (site / "index.html").read_text(encoding="utf-8")
    assert '<meta name="robots" content="noindex' in page
    assert (site / "robots.txt").read_text().splitlines() == ["User-agent: *", "Disallow: /"]
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert "http" not in policy
    assert "connect-src" not in policy  # the page itself fetches nothing: default-src 'none'


def test_the_log_is_left_out(product, tmp_path):
    write_site(with_log(product), tmp_path, MapSettings(), DAY)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "Your log is in this page" not in page


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)], ids=["desk", "phone"])
def test_it_works_without_net_after_the_first_load(browser, site, size):
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    said = []
    page.on("console", lambda one: said.append(one.text))
    with hosted(site) as address:
        page.goto(address)
        ready(page)
        expect(chip(page)).to_have_text(f"Kept on this phone: map of {DAY}", timeout=20000)
    # the host is gone, and so is the net
    context.set_offline(True)
    for path in ("", "index.html", "?x=1#flow=2400cfs"):
        page.goto(address + path)
        ready(page)
        expect(chip(page)).to_have_text(f"Kept on this phone: map of {DAY}")
    assert page.evaluate("reach.features().length") > 10
    assert [line for line in said if "Content Security" in line] == []
    context.close()


@pytest.mark.browser
@pytest.mark.slow
def test_a_second_build_is_offered_and_taken_over_with_notes_kept(browser, site, renewed, tmp_path):
    shutil.copytree(site, tmp_path / "host")
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    with hosted(tmp_path / "host") as address:
        page.goto(address)
        ready(page)
        expect(chip(page)).to_contain_text(DAY, timeout=20000)
        page.evaluate("reach.readHere(reach.map.getCenter())")
        page.click(".reading >> text=Note this place")
        page.click("[data-choice=edge]")
        page.click(".note-keep")
        page.wait_for_timeout(300)
        shutil.copytree(renewed, tmp_path / "host", dirs_exist_ok=True)
        page.reload()
        ready(page)
        button = chip(page).locator("button")
        expect(button).to_have_text("Load it", timeout=20000)
        assert page.evaluate("document.getElementById('site-kept').dataset.day") == DAY
        button.click()
        expect(chip(page)).to_have_attribute("data-day", NEXT, timeout=20000)
        ready(page)
        page.wait_for_timeout(300)
        assert page.evaluate("reach.notes().notes.length") == 1
        caches = page.evaluate("caches.keys()")
        assert len(caches) == 1  # the old map is dropped
    context.set_offline(True)
    page.reload()
    ready(page)
    expect(chip(page)).to_contain_text(NEXT)
    context.close()


@pytest.mark.browser
@pytest.mark.slow
def test_an_upload_that_is_half_done_replaces_nothing(browser, site, renewed, tmp_path):
    host = tmp_path / "host"
    shutil.copytree(site, host)
    context = browser.new_context()
    page = context.new_page()
    with hosted(host) as address:
        page.goto(address)
        ready(page)
        expect(chip(page)).to_contain_text(DAY, timeout=20000)
        shutil.copy(renewed / "sw.js", host / "sw.js")  # its page has not arrived yet
        page.reload()
        ready(page)
        page.wait_for_timeout(1500)
        expect(chip(page)).to_have_text(f"Kept on this phone: map of {DAY}")
    context.set_offline(True)
    page.reload()
    ready(page)
    expect(chip(page)).to_contain_text(DAY)
    context.close()
