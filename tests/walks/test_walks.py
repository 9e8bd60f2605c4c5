"""From an empty folder to an opened map, the way a person goes: commands typed, buttons tapped."""

import pytest

from tests.browser import running_browser
from tests.walks import brought, drawn, terrain
from tests.walks.person import Person

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def browser():
    with running_browser() as running:
        yield running


@pytest.mark.parametrize(
    "walk", [drawn.walk, terrain.walk, brought.walk], ids=["drawn", "terrain", "brought"]
)
def test_a_newcomer_comes_from_an_empty_folder_to_an_opened_map(walk, tmp_path, browser):
    walk(Person(tmp_path, browser))
