"""Other units chosen on the page: the numbers drawn follow, and no step back brings old ones."""

import pytest

from tests.web.editor.folders import bank, body, river, sounding

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_numbers_drawn_are_converted_on_the_page_and_the_check_stays_clean(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    marks = [river(), bank("left", id_="new-l"), bank("right", id_="new-r"), sounding()]
    sheet.served.told("drawing", json_body=body(marks))
    sheet.load()
    page = sheet.page
    page.click("#tab-river")
    facts = (("traced_flow", "900"), ("slope", "0.002"), ("flows", "600, 900"))
    for fact, text in facts:
        page.fill(f"#fact-{fact}", text)
        page.press(f"#fact-{fact}", "Tab")
        sheet.settle()
    page.locator("input[name=fact-units][value=metric]").check(force=True)
    page.wait_for_selector("#page-river .field-unit:text-is('m3/s')")
    sheet.checked()
    (depth,) = [one["values"]["depth"] for one in sheet.marks() if one["layer"] == "soundings"]
    assert float(depth) == pytest.approx(3.5 * 0.3048, abs=1e-6)
    assert sheet.state("state.faults") == []
    assert sheet.state("state.facts.traced_flow") == "900 cfs"
    assert page.is_disabled("#undo")
    page.click("#tab-draw")
    (id_,) = [one["id"] for one in sheet.marks() if one["layer"] == "soundings"]
    page.click(f'[data-mark="{id_}"]')
    assert page.input_value("input[name=depth]") == depth
    assert "m" in page.locator(".field:has(input[name=depth]) .field-unit").inner_text().split()
    sheet.clean()
