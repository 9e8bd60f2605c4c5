"""Drawing and changing by mouse, finger and keyboard, in a real Chromium."""

import pytest

from tests.browser import PHONE
from tests.web.editor.folders import HOME, bank, body, plain, river, sounding

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOM = [(520, 560), (640, 470), (800, 520), (960, 600)]


@pytest.fixture
def begun(open_sheet, tmp_path):
    """A page with a place to begin and nothing drawn."""

    def open_begun(size=(1280, 800), marks=(), **more):
        sheet = open_sheet(tmp_path / "home", size, **more)
        if marks:
            sheet.served.told("drawing", json_body=body(list(marks)))
            sheet.load()
        else:
            sheet.page.fill("#start-place", "46.2, -141.3")
            sheet.page.press("#start-place", "Enter")
        sheet.settle()
        return sheet

    return open_begun


def only(sheet):
    (mark,) = sheet.marks()
    return mark


def test_a_double_click_finishes_a_line_and_puts_no_point_twice(begun):
    sheet = begun()
    sheet.begin("river")
    for x, y in ROOM[:-1]:
        sheet.click(x, y)
    sheet.page.mouse.dblclick(*ROOM[-1])
    sheet.settle()
    assert len(only(sheet)["paths"][0]) == 4
    assert only(sheet)["values"]["part"] == "main"
    sheet.clean()


def test_undo_and_redo_by_buttons_and_keys_reach_the_disk(begun, tmp_path):
    sheet, page = begun(), None
    page = sheet.page
    sheet.begin("river")
    sheet.click(*ROOM[0])
    sheet.click(*ROOM[1])
    page.click("#undo")  # a point of the line under way
    assert sheet.state("state.draft.path.length") == 1
    page.click("#redo")
    assert sheet.state("state.draft.path.length") == 2
    sheet.line(ROOM[2:])
    sheet.begin("trees")
    sheet.click(700, 650)
    sheet.settle()
    assert [one[0] for one in plain(tmp_path / "home")] == ["river", "trees"]
    page.click("#undo")
    sheet.settle()
    assert [one[0] for one in plain(tmp_path / "home")] == ["river"]
    page.keyboard.press("Control+z")
    sheet.settle()
    assert plain(tmp_path / "home") == []
    assert page.is_disabled("#undo")
    page.keyboard.press("Control+Shift+z")
    page.keyboard.press("Control+y")
    sheet.settle()
    assert [one[0] for one in plain(tmp_path / "home")] == ["river", "trees"]
    assert page.is_disabled("#redo")
    sheet.clean()


def test_a_field_is_undone_as_any_other_step(begun):
    sheet = begun(marks=[sounding()])
    sheet.page.click("[data-mark]")
    sheet.page.fill("input[name=depth]", "4.5")
    sheet.page.press("input[name=depth]", "Tab")
    sheet.settle()
    assert only(sheet)["values"]["depth"] == "4.5"
    sheet.page.click("#undo")
    sheet.settle()
    assert only(sheet)["values"]["depth"] == "3.5"
    assert sheet.page.input_value("input[name=depth]") == "3.5"


def test_corners_are_moved_put_in_and_taken_out_by_mouse(begun, tmp_path):
    sheet = begun(marks=[river()])
    page = sheet.page
    path = only(sheet)["paths"][0]
    sheet.click(*sheet.at([(path[1][0] + path[2][0]) / 2, (path[1][1] + path[2][1]) / 2]))
    assert sheet.state("state.chosen") == only(sheet)["id"]

    def drag(place, by):
        x, y = sheet.at(place)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + by[0] / 2, y + by[1] / 2)
        page.mouse.move(x + by[0], y + by[1], steps=3)
        page.mouse.up()
        page.wait_for_timeout(80)
        return sheet.at(place)

    before = sheet.at(path[2])
    drag(path[2], (10, 90))
    moved = sheet.at(only(sheet)["paths"][0][2])
    assert moved == pytest.approx([before[0] + 10, before[1] + 90], abs=1.5)
    assert sheet.at(path[0]) == pytest.approx(
        sheet.at(only(sheet)["paths"][0][0])
    )  # the map stood still

    now = only(sheet)["paths"][0]
    middle = [(now[3][0] + now[4][0]) / 2, (now[3][1] + now[4][1]) / 2]
    drag(middle, (0, -70))
    assert len(only(sheet)["paths"][0]) == 7

    sheet.click(*sheet.at(only(sheet)["paths"][0][4]))
    page.click("text=Take the corner out")
    sheet.settle()
    assert only(sheet)["paths"][0][:2] == now[:2]
    assert len(only(sheet)["paths"][0]) == 6
    assert len(plain(tmp_path / "home")[0][2][0]) == 6
    for _ in range(3):
        page.click("#undo")
    sheet.settle()
    assert only(sheet)["paths"][0] == path
    sheet.clean()


def test_a_new_line_snaps_to_a_corner_exactly_and_not_when_told(begun):
    sheet = begun(marks=[bank()])
    corner = only(sheet)["paths"][0][0]
    x, y = sheet.at(corner)
    sheet.begin("edges", "Line")
    sheet.click(x + 7, y + 5)
    sheet.line([(x + 90, y + 160)])
    assert sheet.marks()[1]["paths"][0][0] == corner  # the very same numbers, not only near
    sheet.page.click("#snap")
    sheet.begin("edges", "Line")
    sheet.click(x + 7, y + 5)
    sheet.line([(x + 120, y + 160)])
    assert sheet.marks()[2]["paths"][0][0] != corner


def test_an_outline_closes_at_its_first_point_and_its_side_is_told_by_the_river(begun):
    sheet = begun(marks=[river()])
    sheet.begin("banks", "Outline")
    x, y = sheet.at([HOME[0] + 0.002, HOME[1] - 0.0006])
    for dx, dy in ((0, 0), (120, 0), (120, 60), (0, 60), (3, 2)):
        sheet.click(x + dx, y + dy)
    sheet.settle()
    made = sheet.marks()[1]
    assert (made["shape"], len(made["paths"][0])) == ("Polygon", 4)
    assert made["values"]["side"] == "right"
    assert made["values"]["cover"] == ""


def press(sheet, *keys):
    for key in keys:
        sheet.page.keyboard.press(key)


def test_the_keyboard_alone_draws(begun, tmp_path):
    sheet = begun()
    page = sheet.page
    page.focus('[data-layer="river"][data-way="Draw"]')
    press(sheet, "Enter")
    page.focus("#map")
    assert page.is_visible("#sight")
    press(sheet, "Enter", "ArrowRight", "ArrowRight", "ArrowRight", "Enter")
    press(sheet, "ArrowDown", "ArrowRight", "Enter", "ArrowRight", "Enter", "Backspace")
    assert sheet.state("state.draft.path.length") == 3
    press(sheet, "f")
    sheet.settle()
    assert len(plain(tmp_path / "home")[0][2][0]) == 3
    sheet.clean()


def test_the_keyboard_alone_changes_and_takes_out(begun, tmp_path):
    sheet = begun(marks=[river()])
    page = sheet.page
    page.focus("[data-mark]")
    press(sheet, "Enter")
    page.focus("#map")
    press(sheet, "n", "n")
    before = only(sheet)["paths"][0]
    press(sheet, "g", "ArrowUp", "ArrowUp", "Shift+ArrowUp", "Enter")
    sheet.settle()
    after = only(sheet)["paths"][0]
    assert after[0] == before[0]
    assert after[1][1] > before[1][1]
    press(sheet, "g", "ArrowUp", "Escape")
    assert only(sheet)["paths"][0] == after
    press(sheet, "Delete")
    assert len(only(sheet)["paths"][0]) == 5
    press(sheet, "Escape")
    assert sheet.state("state.chosen") is None
    press(sheet, "Control+z")
    sheet.settle()
    assert plain(tmp_path / "home")[0][2][0] == tuple(tuple(corner) for corner in after)
    sheet.clean()


def test_a_thumb_draws_on_a_phone_by_taps_and_by_the_sight(begun, tmp_path):
    sheet = begun(PHONE)
    page = sheet.page
    page.tap("text=Draw the river line >> nth=-1")
    page.wait_for_timeout(200)
    for x, y in ((60, 250), (150, 300), (240, 260)):
        page.touchscreen.tap(x, y)
        page.wait_for_timeout(80)
    page.tap("text=Put a point")
    assert sheet.state("state.draft.path.length") == 4
    page.tap("text=Take back")
    assert sheet.state("state.draft.path.length") == 3
    page.tap("[data-act=finish]")
    sheet.settle()
    assert len(only(sheet)["paths"][0]) == 3
    page.tap("[data-keep=done]")
    page.tap('[data-layer="trees"]')
    page.touchscreen.tap(200, 330)
    page.wait_for_timeout(100)
    sheet.settle()
    assert [one[0] for one in plain(tmp_path / "home")] == ["river", "trees"]
    sheet.clean()


def test_a_thumb_drags_a_corner_and_the_map_stands_still(begun, tmp_path):
    sheet = begun(PHONE, marks=[river()])
    page = sheet.page
    page.tap("[data-mark]")
    page.tap("text=Show it")
    page.wait_for_timeout(200)
    path = only(sheet)["paths"][0]
    x, y = sheet.at(path[2])
    fingers = page.context.new_cdp_session(page)

    def touch(kind, *at):
        points = [{"x": at[0], "y": at[1]}] if at else []
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", x + 5, y - 4)
    for step in range(1, 6):
        touch("touchMove", x + 4 * step, y - 7 * step)
    touch("touchEnd")
    sheet.settle()
    moved = only(sheet)["paths"][0]
    assert sheet.at(path[0]) == pytest.approx(sheet.at(moved[0]))
    assert sheet.at(moved[2]) == pytest.approx([x + 20, y - 35], abs=3)
    assert plain(tmp_path / "home")[0][2][0][2] == tuple(moved[2])
    sheet.clean()


def test_points_can_be_typed_and_corners_corrected(begun):
    sheet = begun()
    page = sheet.page
    sheet.begin("river")
    page.click("text=Type a point")
    for text in ("46.2, -141.3", "46.201, -141.299"):
        page.fill("#typed-place", text)
        page.press("#typed-place", "Enter")
        page.wait_for_timeout(80)
    page.fill("#typed-place", "nowhere")
    page.press("#typed-place", "Enter")
    assert page.get_attribute("#typed-place", "aria-invalid") == "true"
    page.click("[data-act=finish]")
    sheet.settle()
    assert only(sheet)["paths"][0] == [[-141.3, 46.2], [-141.299, 46.201]]
    sheet.click(*sheet.at([-141.299, 46.201]))
    page.fill("[name=corner-place]", "46.2015, -141.2985")
    page.press("[name=corner-place]", "Tab")
    sheet.settle()
    assert only(sheet)["paths"][0][1] == [-141.2985, 46.2015]


def test_a_hidden_layer_is_neither_painted_nor_caught_and_stays_in_the_file(begun, tmp_path):
    sheet = begun(marks=[bank()])
    spot = sheet.at(only(sheet)["paths"][0][0])
    inked = (
        "(() => { const c = document.querySelector('.drawn');"
        " return c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v); })()"
    )
    sheet.page.click("#tab-basemap")
    sheet.page.uncheck("text=Grid")
    sheet.settle()
    sheet.page.click("#tab-draw")
    assert sheet.page.evaluate(inked)
    sheet.page.uncheck("text=Show banks on the map")
    sheet.page.wait_for_timeout(150)
    assert not sheet.page.evaluate(inked)
    sheet.click(*spot)
    assert sheet.state("state.chosen") is None
    sheet.settle()
    assert [one[0] for one in plain(tmp_path / "home")] == ["banks"]
    sheet.page.check("text=Show banks on the map")
    sheet.page.wait_for_timeout(150)
    assert sheet.page.evaluate(inked)


def test_a_line_is_turned_round_and_gone_on_from_its_end(begun):
    sheet = begun(marks=[river()])
    page = sheet.page
    path = only(sheet)["paths"][0]
    page.click("[data-mark]")
    page.click("text=Turn round")
    sheet.settle()
    assert only(sheet)["paths"][0] == path[::-1]
    page.click("text=Go on from its end")
    sheet.line([(500, 700)])
    sheet.settle()
    assert only(sheet)["paths"][0][:-1] == path[::-1]
    assert len(only(sheet)["paths"][0]) == 7


def test_a_line_begun_is_there_again_after_the_page_is_loaded_anew(begun):
    sheet = begun()
    sheet.begin("river")
    sheet.click(*ROOM[0])
    sheet.click(*ROOM[1])
    sheet.settle()
    before = sheet.state("state.draft.path")
    sheet.load()
    assert sheet.state("state.draft.path") == before
    sheet.click(*ROOM[2])
    sheet.page.click("[data-act=finish]")
    sheet.settle()
    assert len(only(sheet)["paths"][0]) == 3
    sheet.load()
    assert sheet.state("state.draft") is None


def test_beginning_another_mark_keeps_the_one_begun(begun):
    sheet = begun()
    sheet.begin("river")
    sheet.click(*ROOM[0])
    sheet.click(*ROOM[1])
    sheet.page.click('[data-layer="rocks"]')
    sheet.click(900, 300)
    sheet.settle()
    assert [mark["layer"] for mark in sheet.marks()] == ["river", "rocks"]
