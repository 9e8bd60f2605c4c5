"""The draft on the drawing page: made, looked at, accepted, moved, dropped, and remembered."""

import pytest
from shapely import Polygon

from reachmap.draft.store import State, draft_in
from reachmap.markup.write import MARKUP_FILE
from tests.axe import findings
from tests.browser import PHONE
from tests.draft.terrains import valley
from tests.draft.test_store import tile
from tests.web.editor.folders import plain
from tests.web.editor.serving import serving

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def terrain(tmp_path_factory):
    """A folder with terrain, drafted once; copied for each test."""
    folder = tmp_path_factory.mktemp("drafted")
    tile(folder / "valley.tif", valley(length=800.0))
    with serving(folder) as served:
        told = served.told("draft/make", json_body={"at": None})
    assert "None of it counts" in told["lines"][-1]
    return folder


@pytest.fixture
def home(terrain, tmp_path):
    folder = tmp_path / "home"
    folder.mkdir()
    for path in terrain.iterdir():
        if path.is_file() and not path.name.startswith("."):
            (folder / path.name).write_bytes(path.read_bytes())
    return folder


def states(folder):
    held = draft_in(folder).held
    return {state: sum(one.state is state for one in held) for state in State}


def told(sheet):
    """Wait until the folder knows what was decided."""
    sheet.settle()
    sheet.page.wait_for_timeout(900)


def test_the_button_drafts_and_nothing_is_in_the_drawing(open_sheet, home):
    (home / "draft.gpkg").unlink()
    before = (home / MARKUP_FILE).read_bytes()
    sheet = open_sheet(home, bypass_csp=True)
    assert sheet.page.locator("#draft-badge").is_hidden()
    sheet.page.click("#draft-make")
    sheet.page.wait_for_selector("[data-draft-look=banks]", timeout=60_000)
    assert sheet.page.locator("#draft-badge").is_visible()
    assert sheet.page.locator(".drafted").inner_text().count("None of it counts") == 1
    for _ in ("by day", "by night"):
        assert findings(sheet.page) == []
        sheet.page.click("#night")
    assert sheet.marks() == []
    assert (home / MARKUP_FILE).read_bytes() == before
    assert states(home)[State.OPEN] == sheet.state("state.drafted.length") > 3
    sheet.clean()


def test_a_piece_is_accepted_with_the_cover_that_was_said_and_undo_lets_it_wait(open_sheet, home):
    sheet = open_sheet(home)
    page, waiting = sheet.page, states(home)[State.OPEN]
    page.click("[data-draft-look=banks]")
    page.wait_for_selector("[data-keep=draft-accept]")
    assert "not in your drawing yet" in page.locator("#page-draw").inner_text()
    page.locator("input[name=draft-cover][value=brush]").check(force=True)
    page.click("[data-keep=draft-accept]")
    told(sheet)
    (mark,) = sheet.marks()
    assert (mark["layer"], mark["values"]["cover"]) == ("banks", "brush")
    assert float(mark["values"]["rise"]) > 0
    assert states(home) == {State.OPEN: waiting - 1, State.ACCEPTED: 1, State.DROPPED: 0}
    assert [one[0] for one in plain(home)] == ["banks"]
    page.click("#undo")
    told(sheet)
    assert sheet.marks() == []
    assert states(home)[State.OPEN] == waiting
    page.click("#redo")
    told(sheet)
    assert len(sheet.marks()) == 1
    assert states(home)[State.ACCEPTED] == 1
    sheet.load()
    assert sheet.state("state.drafted.length") == waiting - 1
    sheet.clean()


def test_a_move_accepts(open_sheet, home):
    sheet = open_sheet(home)
    page = sheet.page
    page.click("[data-draft-look=river]")
    page.wait_for_timeout(150)
    corner = sheet.state("state.drafted.find((one) => one.layer === 'river').paths[0][1]")
    x, y = sheet.at(corner)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12, y + 9)
    page.mouse.move(x + 30, y + 24)
    page.mouse.up()
    told(sheet)
    (mark,) = sheet.marks()
    assert (mark["layer"], mark["values"]["part"]) == ("river", "main")
    assert mark["paths"][0][1] != corner
    assert mark["paths"][0][2] != corner
    assert states(home)[State.ACCEPTED] == 1
    page.click("#undo")  # one step: the move and the acceptance
    told(sheet)
    assert sheet.marks() == []
    assert states(home)[State.ACCEPTED] == 0
    sheet.clean()


def test_a_dropped_piece_is_not_drafted_again_before_it_is_asked_for(open_sheet, home):
    sheet = open_sheet(home)
    page, waiting = sheet.page, states(home)[State.OPEN]
    page.click("[data-draft-look=banks]")
    page.click("[data-keep=draft-drop]")
    told(sheet)
    assert states(home) == {State.OPEN: waiting - 1, State.ACCEPTED: 0, State.DROPPED: 1}
    page.click("[data-keep=draft-done]")
    page.click("#draft-make")
    page.wait_for_selector("#draft-make:not([disabled])", timeout=60_000)
    sheet.settle()
    assert states(home)[State.DROPPED] == 1
    assert sheet.state("state.drafted.length") == waiting - 1
    page.click("[data-keep=draft-again]")
    page.wait_for_timeout(300)
    assert sheet.state("state.drafted.length") == waiting
    assert states(home)[State.DROPPED] == 0
    sheet.clean()


def test_all_of_a_kind_are_accepted_only_after_each_was_looked_at(open_sheet, home):
    sheet = open_sheet(home)
    page = sheet.page
    page.evaluate("import('./page/drafted.js').then(({draft}) => draft.seen.clear())")
    page.evaluate("import('./page/state.js').then(({publish}) => publish('drafted'))")
    for _ in range(8):
        page.click("#farther")
    page.evaluate("import('./page/drafted.js').then(({draft}) => draft.seen.clear())")
    page.evaluate("import('./page/state.js').then(({publish}) => publish('drafted'))")
    page.wait_for_timeout(150)
    everything = page.locator("[data-draft-all=banks]")
    assert everything.is_disabled()
    page.click("[data-draft-look=banks]")
    for _ in range(sheet.state("state.drafted.filter((one) => one.layer === 'banks').length")):
        page.click("[data-keep=draft-next]")
        page.wait_for_timeout(60)
    page.click("[data-keep=draft-done]")
    assert everything.is_enabled()
    count = sheet.state("state.drafted.filter((one) => one.layer === 'banks').length")
    everything.click()
    told(sheet)
    assert len(sheet.marks()) == count
    assert sheet.state("state.drafted.filter((one) => one.layer === 'banks').length") == 0
    sheet.clean()


def test_on_a_phone_a_tap_on_the_map_opens_the_card_of_a_piece(open_sheet, home):
    sheet = open_sheet(home, PHONE, bypass_csp=True)
    page = sheet.page
    ring = sheet.state(
        "state.drafted.find((one) => one.layer === 'banks' && one.values.side === 'left').paths[0]"
    )
    inside = Polygon(ring).representative_point()
    page.click("#tab-draw")  # the ledger goes down
    page.wait_for_timeout(150)
    page.touchscreen.tap(*sheet.at((inside.x, inside.y)))
    page.wait_for_timeout(250)
    assert page.locator("[data-keep=draft-accept]").is_visible()
    assert "not in your drawing yet" in page.locator("#page-draw").inner_text()
    assert findings(page) == []
    sheet.clean()


def test_without_terrain_there_is_no_draft_to_make(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "bare")
    assert sheet.page.locator("#draft-make").count() == 0
    assert sheet.served.ask("draft/make", json_body={"at": None})[0] == 422
    sheet.clean()


@pytest.mark.parametrize("sent", [{"states": 3}, {"states": {"a": "burnt"}}, {}])
def test_odd_decisions_are_refused_in_words(home, sent):
    with serving(home) as served:
        status, _, body = served.ask("draft", json_body=sent)
        assert status == 422
        assert b"said" in body
        assert served.ask("draft/make", json_body={"at": [1, "b"]})[0] == 422


def test_what_was_accepted_when_the_program_ended_is_not_shown_twice(home):
    with serving(home) as served:
        piece = served.told("draft")["drafted"][0]
        sent = {"version": served.told("drawing")["version"], "marks": [piece], "draft": None}
        served.told("drawing", json_body=sent)
        assert piece["id"] not in {one["id"] for one in served.told("draft")["drafted"]}
