from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from reachmap.outputs.product import Product
from reachmap.outputs.webmap import write_maps
from tests.browser import DESK, Watched, running_browser, watched_page
from tests.outputs.made_product import made_product

Opener = Callable[..., Watched]


@pytest.fixture(scope="session")
def product() -> Product:
    return made_product()


@pytest.fixture(scope="session")
def maps(product: Product, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("maps")
    write_maps(product, folder)
    return folder


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with running_browser() as running:
        yield running


@pytest.fixture
def browser_page(browser: Browser) -> Iterator[Opener]:
    """Open a map page and wait until it is drawn; it must have asked for nothing else."""
    with ExitStack() as open_pages:

        def opened(path: Path, size: tuple[int, int] = DESK, *, address: str = "", **options):
            watched = open_pages.enter_context(watched_page(browser, size, **options))
            watched.page.goto(path.as_uri() + address)
            watched.page.wait_for_selector(
                "html[data-reach=ready]", state="attached", timeout=20000
            )
            assert watched.requests == [path.as_uri() + address] or [
                r.split("#")[0] for r in watched.requests
            ] == [path.as_uri()]
            return watched

        yield opened
