"""A browser for the drawing page, and folders to draw in."""

import pytest

from tests.browser import DESK, running_browser, watched_page
from tests.web.editor.serving import serving


@pytest.fixture(scope="package")
def browser():
    with running_browser() as running:
        yield running


class Sheet:
    """An open drawing page, driven as a hand would."""

    def __init__(self, served, watched):
        self.served, self.watched, self.page = served, watched, watched.page
        self.page.set_default_timeout(10_000)

    def load(self):
        self.page.goto(self.served.address)
        self.page.wait_for_selector("html[data-ready]")
        self.settle()

    def settle(self):
        """Wait until everything is kept and drawn."""
        self.page.wait_for_timeout(120)
        self.page.wait_for_selector("#kept[data-now=kept]", timeout=8000)
        self.page.wait_for_timeout(80)

    def checked(self):
        """Wait until the check has seen what was kept."""
        self.settle()
        for _ in range(600):  # the page's policy forbids what a waiting function would need
            if self.state("state.checked === state.version"):
                break
            self.page.wait_for_timeout(50)
        self.page.wait_for_timeout(80)

    def state(self, expression):
        """Return something of the page's state."""
        return self.page.evaluate(f"import('./page/state.js').then(({{state}}) => {expression})")

    def at(self, place):
        """Return the pixel of the window at a place [longitude, latitude]."""
        return self.page.evaluate(
            """place => import('./page/viewport.js').then(({onScreen}) => {
              const box = document.getElementById('map').getBoundingClientRect();
              const [x, y] = onScreen(place);
              return [x + box.left, y + box.top];
            })""",
            list(place),
        )

    def click(self, x, y):
        self.page.mouse.move(x - 30, y - 9)
        self.page.mouse.move(x, y)
        self.page.mouse.click(x, y)
        self.page.wait_for_timeout(40)

    def line(self, points):
        """Put points by mouse and finish by a second click on the last."""
        for x, y in points:
            self.click(x, y)
        self.click(*points[-1])
        self.page.wait_for_timeout(60)

    def begin(self, layer, way="Draw"):
        """Begin a mark by the ledger."""
        self.page.click("#tab-draw")
        if self.page.locator("[data-keep=done]").count():
            self.page.click("[data-keep=done]")
        self.page.click(f'[data-layer="{layer}"][data-way="{way}"]')

    def marks(self):
        return self.state("state.marks")

    def clean(self):
        """Nothing was asked of anybody else, nothing was said on the console."""
        own = self.served.origin
        assert [one for one in self.watched.requests if not one.startswith(own)] == []
        assert self.watched.messages == []


@pytest.fixture
def open_sheet(browser):
    """Open the page of a folder; all that was opened is closed at the end."""
    opened = []

    def opener(folder, size=DESK, **more):
        serve = serving(folder)
        served = serve.__enter__()
        opened.append(serve)
        return tab(served, size, **more)

    def tab(served, size=DESK, **more):
        page = watched_page(browser, size, offline=False, **more)
        sheet = Sheet(served, page.__enter__())
        opened.append(page)
        sheet.load()
        return sheet

    opener.tab = tab
    yield opener
    for one in reversed(opened):
        one.__exit__(None, None, None)
