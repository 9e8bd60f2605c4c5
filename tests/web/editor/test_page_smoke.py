"""The shortest look at the page in a real browser: it opens, draws, keeps, asks nobody else."""

import pytest

from tests.browser import PHONE
from tests.web.editor.folders import plain

pytestmark = pytest.mark.browser


def test_the_page_opens_draws_and_keeps(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    sheet.page.fill("#start-place", "46.2, -141.3")
    sheet.page.press("#start-place", "Enter")
    sheet.settle()
    sheet.begin("river")
    sheet.line([(520, 560), (640, 470), (800, 520)])
    sheet.settle()
    assert [(one[0], len(one[2][0])) for one in plain(tmp_path / "home")] == [("river", 3)]
    phone = open_sheet.tab(sheet.served, PHONE)
    assert len(phone.marks()) == 1
    phone.clean()
    sheet.clean()
