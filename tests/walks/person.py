"""What a person does: type commands in a terminal, tap on the pages that they open."""

import os
import re
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

from tests.browser import DESK, watched_page
from tests.web.editor.conftest import Sheet

ROOT = Path(__file__).resolve().parents[2]
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S*")


class Served:
    """The address that a command printed."""

    def __init__(self, address):
        self.address = address
        self.origin = "/".join(address.split("/")[:3])


class Person:
    """Somebody in a folder of their own, with a terminal and a browser.

    `shot(name, page)` is called where a picture tells what is to be seen.
    """

    def __init__(self, home, browser, shot=None):
        self.home, self.browser = home, browser
        self.shot = shot or (lambda *_: None)

    def _command(self, words):
        return [sys.executable, "-m", "reachmap", *words]

    def _where(self):
        return {"cwd": self.home, "env": {**os.environ, "PYTHONPATH": str(ROOT)}, "text": True}

    def types(self, *words):
        """Run a command and return what it printed; it must end well and without a warning."""
        ended = subprocess.run(
            self._command(words), capture_output=True, check=False, timeout=900, **self._where()
        )
        assert ended.returncode == 0, ended.stdout + ended.stderr
        assert "Traceback" not in ended.stderr
        assert "Warning" not in ended.stderr
        return ended.stdout

    @contextmanager
    def page_of(self, *words, size=DESK):
        """Open the page that a command serves; Ctrl-C ends it."""
        command = self._command([*words, "--no-browser"])
        with subprocess.Popen(command, stdout=subprocess.PIPE, **self._where()) as served:
            try:
                address = ""
                for line in served.stdout:
                    if found := ADDRESS.search(line):
                        address = found[0]
                        break
                assert address, "the command printed no address"
                with watched_page(self.browser, size, offline=False) as watched:
                    yield Sheet(Served(address), watched)
            finally:
                served.send_signal(signal.SIGINT)
                served.wait(120)  # a preview under way is let finish
        assert served.returncode == 0

    @contextmanager
    def draws(self, folder):
        """Open the page to draw on."""
        with self.page_of("mark", folder) as sheet:
            sheet.page.set_default_timeout(30_000)
            sheet.load()
            yield sheet
            sheet.clean()

    def builds_and_looks(self, folder, name):
        """Check, build a preview, open it, and tap the first run there is."""
        assert "reads well" in self.types("check", folder)
        told = self.types("build", folder, "--quick")
        assert "People drown wading" in told
        with self.page_of("view", folder) as sheet:
            page = sheet.page
            page.goto(sheet.served.address)
            page.wait_for_timeout(2500)
            assert name in page.inner_text("h1")
            assert "preview" in page.inner_text("body").lower()
            self.shot("built", page)
            assert sheet.watched.messages == []
            return told


def say_facts(sheet, **facts):
    """Fill in the page River."""
    sheet.page.click("#tab-river")
    for fact, text in facts.items():
        sheet.page.fill(f"#fact-{fact}", text)
        sheet.page.press(f"#fact-{fact}", "Tab")
        sheet.settle()
    sheet.checked()


def build_command(sheet):
    """Return the command that the page Check says."""
    sheet.page.click("#tab-check")
    sheet.page.wait_for_selector("#build-command")
    return sheet.page.inner_text("#build-command")
