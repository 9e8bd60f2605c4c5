"""A dropped file of somebody's own words: what was understood is shown, changed, taken in."""

import json

import pytest

from tests.web.editor.folders import HOME, bank, body, river

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SIZES = pytest.mark.parametrize("size", [(1280, 800), (390, 844)], ids=["desk", "phone"])
CENTRE = [[HOME[0] + 0.001 * i, HOME[1]] for i in range(8)]


def shifted(by, corners=CENTRE):
    return [[x, y + by] for x, y in corners]


def strip(near, far, corners=CENTRE):
    ring = shifted(near, corners) + shifted(far, corners)[::-1]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def file_of(*pieces):
    """Return a GeoJSON file of (geometry, properties), as other programs write it."""
    features = [
        {"type": "Feature", "properties": more, "geometry": shape} for shape, more in pieces
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def line(corners):
    return {"type": "LineString", "coordinates": corners}


def point(dx, dy):
    return {"type": "Point", "coordinates": [HOME[0] + dx, HOME[1] + dy]}


PIECES = (
    (strip(0.0003, 0.0008), {"name": "river left - willows"}),
    (strip(-0.0003, -0.0008, CENTRE[:5]), {"SIDE": "R", "VEG": "Gravel bar"}),
    (strip(-0.0003, -0.0008, CENTRE[4:]), {"name": "spruce"}),
    (point(0.001, 0.0012), {"name": "Parking"}),
    (point(0.003, 0.0001), {"name": "strainer"}),
    (point(0.004, 0.0001), {"name": "1", "depth_m": 1.2, "Q": 900}),
)


def bring(sheet, content, name="my river.geojson"):
    sheet.page.set_input_files("#bring", {"name": name, "mimeType": "", "buffer": content})
    sheet.page.wait_for_selector("#take-in")


def say_facts(sheet):
    facts = {"traced_flow": "900", "slope": "0.002", "flows": "600, 900, 1400"}
    version = sheet.served.told("state")["version"]
    sheet.served.told("facts", json_body={"version": version, "facts": facts})
    sheet.load()


@SIZES
def test_words_sides_and_units_of_a_file_lead_to_a_drawing_without_faults(
    open_sheet, tmp_path, size
):
    sheet = open_sheet(tmp_path / "home", size)
    say_facts(sheet)
    bring(sheet, file_of((line(CENTRE), {"name": "Track 7"}), *PIECES))
    text = sheet.page.inner_text("#page-draw")
    assert "Banks lie on both its sides." in text
    assert "From “willows” in its name." in text
    assert "From “Gravel bar” in the column veg." in text
    assert "By where it lies: 100 % of its outline." in text  # the spruce says no side
    assert sheet.marks() == []  # nothing before the nod
    for at, picture in enumerate(("top", "foot")):
        sheet.page.evaluate(f"document.querySelectorAll('.brought-row')[{at * 5}].scrollIntoView()")
        sheet.page.screenshot(path=tmp_path / f"nod-{size[0]}-{picture}.png")
    assert sheet.page.inner_text("#take-in") == "Take in"
    sheet.page.click("#take-in")
    sheet.checked()
    marks = [(one["layer"], one["values"]) for one in sheet.marks()]
    banks = [(v["side"], v["cover"]) for layer, v in marks if layer == "banks"]
    assert banks == [("left", "brush"), ("right", "gravel"), ("right", "trees")]
    named = dict(marks)
    assert named["river"]["name"] == "Track 7"
    assert named["access"]["kind"] == "parking"
    assert named["hazards"]["kind"] == "strainer"
    assert (named["soundings"]["depth"], named["soundings"]["flow"]) == ("1.2 m", "900")
    assert sheet.state("state.faults") == []
    sheet.clean()


def test_each_proposal_can_be_changed_and_what_is_missing_is_counted(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    bare = (strip(0.0003, 0.0008), {"name": "bank 1", "cover": "zzz"})
    bring(sheet, file_of((line(CENTRE), {"name": "main channel"}), bare, PIECES[3]))
    assert sheet.page.inner_text("#take-in") == "Take in, 1 still to say"
    assert "“zzz” in the column cover is none of these." in sheet.page.inner_text("#page-draw")
    sheet.page.select_option("select[name=nod-cover]", "grass")
    sheet.page.wait_for_selector("#take-in:text-is('Take in')")
    sheet.page.select_option("select[name=nod-kind]", "path")
    sheet.page.wait_for_timeout(80)
    sheet.page.select_option("select[name=nod-side]", "right")
    sheet.page.wait_for_selector("text=On the map it lies to the left of the river line.")
    sheet.page.click("#take-in")
    sheet.settle()
    _, made, way = (one["values"] for one in sheet.marks())
    assert (made["side"], made["cover"], way["kind"]) == ("right", "grass", "path")


@pytest.mark.parametrize("turn", [True, False])
def test_a_line_drawn_upstream_is_turned_round_with_a_nod(open_sheet, tmp_path, turn):
    sheet = open_sheet(tmp_path / "home")
    bring(sheet, file_of((line(CENTRE[::-1]), {"name": "river"}), *PIECES[:2]))
    sheet.page.wait_for_selector("text=it seems to be drawn going upstream")
    if not turn:
        sheet.page.uncheck("#turn-river")
        sheet.page.wait_for_timeout(80)
    sheet.page.click("#take-in")
    sheet.settle()
    drawn = sheet.marks()[0]["paths"][0]
    assert drawn == (CENTRE if turn else CENTRE[::-1])


def test_plain_numbers_of_a_file_in_the_other_system_get_its_unit(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    bring(sheet, file_of((point(0.004, 0.0001), {"name": "a", "depth": 1.2, "flow": "900 cfs"})))
    sheet.page.check("input[name=file-units][value=metres]", force=True)
    sheet.page.wait_for_timeout(80)
    sheet.page.click("#take-in")
    sheet.settle()
    values = sheet.marks()[0]["values"]
    assert (values["depth"], values["flow"]) == ("1.2 m", "900 cfs")


def test_a_bank_beside_the_river_line_neither_sticks_to_it_nor_takes_the_last_cover(
    open_sheet, tmp_path
):
    sheet = open_sheet(tmp_path / "home")
    sheet.served.told("drawing", json_body=body([river(), bank(side="left", cover="brush")]))
    sheet.load()
    path = sheet.marks()[0]["paths"][0]
    x, y = sheet.at(path[2])
    sheet.begin("banks", "Outline")
    corners = [(x + 3, y + 4), (x + 90, y + 60), (x + 60, y + 110), (x - 20, y + 90)]
    for corner in [*corners, corners[0]]:
        sheet.click(*corner)
    sheet.settle()
    made = sheet.marks()[-1]
    assert made["paths"][0][0] not in path
    assert sheet.at(made["paths"][0][0]) == pytest.approx(corners[0], abs=0.6)
    assert (made["values"]["side"], made["values"]["cover"]) == ("right", "")
    sheet.page.click("[data-keep=cover-too]")
    sheet.settle()
    assert sheet.marks()[-1]["values"]["cover"] == "brush"
    sheet.page.click("#undo")
    sheet.settle()
    assert sheet.marks()[-1]["values"]["cover"] == ""
    sheet.clean()


def test_a_side_channel_still_catches_on_the_river_line(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    sheet.served.told("drawing", json_body=body([river()]))
    sheet.load()
    path = sheet.marks()[0]["paths"][0]
    x, y = sheet.at(path[2])
    sheet.begin("river")
    sheet.click(x + 4, y + 3)
    sheet.line([(x + 90, y + 90)])
    sheet.settle()
    assert sheet.marks()[-1]["paths"][0][0] == path[2]
