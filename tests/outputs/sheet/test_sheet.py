"""The pocket sheet: the strips, what each run's panel says, and text that stays text."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from lxml import html as lxml_html
from shapely import Point, box

from reachmap.base.words import AccessKind, HazardKind, UnitSystem
from reachmap.outputs.palette import Pattern
from reachmap.outputs.sheet import sheet_page, write_sheets
from reachmap.outputs.sheet.hatch import hatch_dots, hatch_lines
from reachmap.outputs.sheet.paper import PAPERS, USUAL
from reachmap.outputs.sheet.sides import panels_a_side
from reachmap.outputs.sheet.signs import ACCESS_LETTERS, HAZARD_LETTERS
from reachmap.outputs.sheet.strips import cut_strips
from reachmap.outputs.sheet.window_bar import EDGE, WIDTH, window_bar
from reachmap.text.sheet import NOTHING
from tests.made import made_ground
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product
from tests.outputs.sheet.made_walk import listed, walked_product, with_stations, with_table

NASTY = "</title><script>alert(1)</script>{{7*7}}\u202e" + "x" * 10_000


@pytest.fixture(scope="module")
def product():
    return walked_product()


def parsed(product, label=None, **rest):
    return lxml_html.fromstring(sheet_page(product, label or product.labels[1], **rest))


def panels(page) -> dict[str, dict[str, str]]:
    """Return what each panel says, by the run's name: name of each row and its words."""
    found = {}
    for panel in page.xpath("//article"):
        rows = {
            row.xpath("./b")[0].text_content(): " ".join(row.text_content().split())
            for row in panel.xpath(".//div[@class='told']/p")
        }
        said = {name: words.removeprefix(name).strip() for name, words in rows.items()}
        found[panel.xpath("./h2/span")[0].text_content()] = said
    return found


def test_strips_keep_shape_and_scale():
    ground = made_ground(length=900, wavelength=420, turn_deg=50)
    strips = cut_strips(ground, width=470, height=430, gap=6)
    for strip in strips:
        corners = np.array(strip.line.coords)
        placed = strip.placed(corners)
        # a turn and a scale: every distance grows by the same factor
        before = np.hypot(*np.diff(corners, axis=0).T)
        after = np.hypot(*np.diff(placed, axis=0).T)
        np.testing.assert_allclose(after, strip.scale * before, rtol=1e-9, atol=1e-9)
    assert len({round(strip.scale, 9) for strip in strips}) == 1


def test_the_river_runs_up_every_strip_and_fits_in_it():
    ground = made_ground(length=900, wavelength=420, turn_deg=50)
    for strip in cut_strips(ground, width=470, height=430, gap=6):
        placed = strip.placed(np.array([strip.line.coords[0], strip.line.coords[-1]]))
        assert placed[1, 1] < placed[0, 1]
        assert placed[1, 0] == pytest.approx(placed[0, 0], abs=1e-6)
        x0, y0, x1, y1 = strip.drawn(strip.around).bounds
        assert min(x0, y0) >= -1e-6
        assert x1 <= strip.width + 1e-6
        assert y1 <= strip.height + 1e-6


def test_strips_together_are_the_whole_river():
    ground = made_ground(length=900, wavelength=420, turn_deg=50)
    strips = cut_strips(ground, width=470, height=430, gap=6)
    total = sum(strip.line.length for strip in strips)
    line = np.column_stack((ground["line_x"], ground["line_y"]))
    assert total == pytest.approx(shapely.LineString(line).length, rel=1e-9)


def test_shapes_cut_to_a_strip_together_are_those_cut_one_by_one():
    ground = made_ground(length=900, wavelength=420, turn_deg=50)
    chance = np.random.default_rng(2)
    x, y = chance.choice(ground["line_x"], 60), chance.choice(ground["line_y"], 60)
    shapes = shapely.buffer(shapely.points(x, y), 30.0)
    for strip in cut_strips(ground, width=470, height=430, gap=6):
        alone = [part for part in map(strip.drawn, shapes) if not part.is_empty]
        assert 0 < len(alone) < len(shapes)
        assert strip.all_drawn(shapes) == alone


def test_left_of_the_river_is_left_on_the_page():
    ground = made_ground(length=400)  # runs east: river left is north
    (strip, *_) = cut_strips(ground, width=470, height=430, gap=6)
    middle = strip.line.interpolate(0.5, normalized=True)
    north = strip.placed(np.array([[middle.x, middle.y + 10]]))
    on_line = strip.placed(np.array([[middle.x, middle.y]]))
    assert north[0, 0] < on_line[0, 0]


@pytest.mark.parametrize("pattern", list(Pattern))
def test_hatching_stays_inside_its_shape(pattern):
    shape = Point(20, 20).buffer(14)
    assert hatch_lines(shape, pattern, 4.0).difference(shape.buffer(1e-6)).length < 1e-9
    assert all(shape.buffer(1e-9).covers(dot) for dot in hatch_dots(shape, pattern, 4.0))
    drawn = hatch_lines(shape, pattern, 4.0).length + len(hatch_dots(shape, pattern, 4.0))
    assert (drawn > 0) is (pattern is not Pattern.NONE)


def test_patterns_tell_kinds_apart_without_colour():
    shape = box(0, 0, 40, 40)
    drawn = {
        pattern: (
            hatch_lines(shape, pattern, 4.0).wkt,
            tuple(dot.wkt for dot in hatch_dots(shape, pattern, 4.0)),
        )
        for pattern in Pattern
    }
    assert len(set(drawn.values())) == len(Pattern)


@pytest.mark.parametrize(
    ("runs", "wanted"), [(0, [0]), (1, [1]), (2, [2]), (3, [2, 1]), (4, [2, 2]), (5, [3, 2])]
)
def test_two_or_three_runs_stand_on_a_side(runs, wanted):
    assert panels_a_side(runs, only=2, first=3, further=3, last=2) == wanted


@pytest.mark.parametrize("runs", range(12))
@pytest.mark.parametrize("rooms", [(0, 0, 1, 0), (1, 2, 3, 0), (2, 3, 3, 2), (0, 1, 2, 1)])
def test_every_run_finds_a_side_and_none_holds_more_than_fit(runs, rooms):
    only, first, further, last = rooms
    counts = panels_a_side(runs, only=only, first=first, further=further, last=last)
    assert sum(counts) == runs
    assert min(counts) >= 0
    if len(counts) > 1:
        caps = [first, *[further] * (len(counts) - 2), last]
        assert all(count <= cap for count, cap in zip(counts, caps, strict=True))


def test_the_runs_are_those_of_the_day_in_walking_order(product):
    for label in product.labels:
        page = parsed(product, label)
        rows = listed(product, label)
        assert page.xpath("//article/h2/span/text()") == list(rows["run"])
        numbers = page.xpath("//article/h2/b/text()")
        assert numbers == [str(n) for n in range(1, len(rows) + 1)]


def test_a_panel_says_what_to_do_there_at_this_flow(product):
    said = panels(parsed(product))["First Gravel"]
    assert list(said) == ["Mind", "Way in", "Stand", "Room", "Cast", "Tip", "Mend", "Step", "Flows"]
    assert said["Stand"].startswith("river right, to knee deep (1.5 ft); ")
    assert said["Cast"] == "double spey, 64 ft, 55 deg down"
    assert said["Tip"].startswith("10 ft of T-11; ")
    assert "swing 31 s" in said["Step"]
    assert said["Mind"] == "a hazard you drew is near"
    (head,) = parsed(product).xpath("//article[h2/span='First Gravel']/h2/i/text()")
    assert head.startswith("middle 55 yd, 25 min")


def test_what_one_place_does_not_know_is_known_nowhere_and_never_a_zero(product):
    stations = product.layers["stations"].copy()
    first = stations["code"].str.endswith("-3")
    stations.loc[first, "room_m"] = np.nan
    stations.loc[first, "depth_m"] = np.nan
    for said in panels(parsed(with_stations(product, stations))).values():
        assert said["Room"] == "not known"
        assert "how deep is not known" in said["Stand"]


def test_the_deepest_place_and_the_least_room_are_printed(product):
    stations = product.layers["stations"].copy()
    deep, tight = stations["code"].str.endswith("-2"), stations["code"].str.endswith("-5")
    stations.loc[deep, "depth_m"] = 0.762  # 2.5 ft
    stations.loc[tight, "room_m"] = 0.3048 * 9
    said = panels(parsed(with_stations(product, stations)))["First Gravel"]
    assert "(2.5 ft)" in said["Stand"]
    assert said["Room"] == "9 ft at the tightest place"


def test_without_a_card_everything_is_not_known(product):
    bare = replace(product, cards=None)
    said = panels(parsed(bare))["First Gravel"]
    assert said["Way in"] == said["Mend"] == said["Tip"] == said["Step"] == "not known"
    assert said["Stand"] == "no place found"
    assert said["Cast"] == "none has room here"


def test_a_day_by_boat_alone_says_so_at_every_run(product):
    stations = product.layers["stations"].assign(access="boat")
    boat = with_table(with_stations(product, stations), by_boat=True)
    page = parsed(boat)
    assert len(page.xpath("//article")) > 2
    assert all("by boat" in words for words in page.xpath("//article/h2/i/text()"))
    assert {said["Way in"] for said in panels(page).values()} == {"by boat only"}


def test_where_nobody_can_fish_the_sheet_says_why_and_shows_the_reach(product):
    none = with_table(product, pick=0, by_boat=False, in_shape=False, shut="no stand")
    page = parsed(none)
    assert page.xpath("//article") == []
    assert page.xpath("//p[@class='none']/text()") == [NOTHING]
    told = page.xpath("//p[@class='shut']/text()")
    assert told
    assert all("nowhere to stand within your limits" in line for line in told)
    assert page.xpath("//svg[@class='strip']")
    assert "People drown wading" in page.text_content()


def test_other_runs_in_shape_are_named_by_code(product):
    label = product.labels[1]
    first = listed(product, label).iloc[0]
    runs = product.runs.copy()
    mine = (runs["flow_label"] == label) & (runs["run"] == first["run"])
    runs.loc[mine, "pick"] = 0
    (note,) = parsed(replace(product, runs=runs)).xpath("//p[@class='more']/text()")
    assert note.startswith(f"In shape too, by their names in the GPS: {first['code']}")
    assert first["run"] not in note


def test_a_sheet_has_everything_in_it_and_loads_nothing(product, tmp_path):
    for path in write_sheets(product, tmp_path):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"(?:src|href)=\"(?!data:)", text)
        assert "It never says that water can be waded" in text
        assert "default-src 'none'" in text
        sides = lxml_html.fromstring(text).xpath("//section[@class='side']")
        assert all("People drown wading" in side.text_content() for side in sides)


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("units", list(UnitSystem))
def test_either_paper_goes_with_either_units(paper, units):
    other = walked_product(units=units)
    text = sheet_page(other, other.labels[1], paper=paper)
    assert f"size:{PAPERS[paper].name}" in text
    page = lxml_html.fromstring(text)
    said = panels(page)["First Gravel"]
    us = units is UnitSystem.US
    assert ("(1.5 ft)" if us else "(0.5 m)") in said["Stand"]
    key = " ".join(page.xpath("//p[@class='key']")[0].text_content().split())
    assert ("over 4 ft" if us else "over 1.2 m") in key
    assert "not known" in key


def test_black_and_white_are_the_only_colours(product):
    text = sheet_page(product, product.labels[1])
    colours = set(re.findall(r"#[0-9a-fA-F]{3,6}\b", text)) - {"#777"}  # the screen about the paper
    assert colours <= {"#000000", "#ffffff", "#000", "#fff"}
    assert "opacity" not in text


def test_p_is_for_parking_alone_and_each_kind_of_hazard_has_its_letter():
    assert [kind for kind, letter in ACCESS_LETTERS.items() if letter == "P"] == [
        AccessKind.PARKING
    ]
    assert set(ACCESS_LETTERS) == set(AccessKind)
    assert set(HAZARD_LETTERS) == set(HazardKind)
    letters = [*ACCESS_LETTERS.values(), *HAZARD_LETTERS.values()]
    assert len(set(letters)) == len(letters)


def test_signs_on_the_maps_stand_in_the_key(product):
    page = parsed(product)
    (told,) = page.xpath("//p[@class='letters']/text()")
    for group in page.xpath("//svg//g[title]"):
        letter = group.xpath("./text")[0].text_content()
        words = group.xpath("./title")[0].text_content()
        assert f"{letter} {words}" in told
    assert "there are others" in told


def test_unknown_water_is_bricked_and_carries_a_question_mark(product):
    maps = [article.xpath(".//svg//text/text()") for article in parsed(product).xpath("//article")]
    assert any("?" in words for words in maps)


def test_the_walk_is_drawn_from_start_to_out(product):
    for article in parsed(product).xpath("//article"):
        words = article.xpath(".//svg[@class='map']//text/text()")
        assert "START" in words
        assert "OUT" in words


def test_the_bar_of_flows_marks_the_window_and_this_flow():
    whole = window_bar(10.0, 1000.0, (10.0, 1000.0), 100.0)
    assert f"M{EDGE:.1f} 8H{WIDTH - EDGE:.1f}" in whole
    assert f"M{WIDTH / 2:.1f} 9l" in whole  # the middle by the logarithm
    none = window_bar(10.0, 1000.0, (np.nan, np.nan), 5000.0)
    assert none.count("<path") == 2
    assert f"M{WIDTH - EDGE:.1f} 9l" in none  # kept on the bar


def test_places_worth_a_note_are_pointed_to(product):
    text = sheet_page(with_doubt(product), product.labels[0])
    assert "Worth a note: A1 to A10 in the GPS." in text


def test_water_that_is_a_guess_says_so(product):
    water = product.layers["water"].assign(confidence="low")
    guessed = replace(product, layers={**product.layers, "water": water})
    guessed = with_stations(guessed, product.layers["stations"])
    assert all("a guess" in words for words in parsed(guessed).xpath("//article/h2/i/text()"))
    assert not any("a guess" in w for w in parsed(product).xpath("//article[1]/h2/i/text()"))


def test_the_address_of_the_site_is_a_code_once_and_none_where_there_is_none(product):
    assert not parsed(product).xpath("//*[@class='qr']")
    plan = replace(product.markup.plan, site_address="https://river.example.org/<home>/")
    page = parsed(replace(product, markup=replace(product.markup, plan=plan)))
    (code,) = page.xpath("//*[@class='qr']")
    assert code.xpath(".//*[local-name()='path']")
    assert "https://river.example.org/<home>/" in code.text_content()


def test_a_preview_and_an_invented_river_say_so():
    product = made_product(preview=True)
    text = sheet_page(product, product.labels[0])
    assert "PREVIEW" in text
    assert "This river is invented." in text


def test_hostile_names_stay_text():
    product = with_doubt(walked_product(text=NASTY), text=NASTY)
    for label in product.labels:
        page = lxml_html.fromstring(sheet_page(product, label))
        assert page.xpath("//script") == []
        assert len(page.xpath("//h1")[0].text_content()) < 120
        assert all(len(name) < 40 for name in page.xpath("//article/h2/span/text()"))


def test_paper_sizes_are_half_letter_and_a5():
    # ISO 216: A5 is 148 mm by 210 mm; half letter is 5.5 in by 8.5 in (half of ANSI A), from memory
    a5 = PAPERS[USUAL[UnitSystem.METRIC]]
    assert (round(a5.width * 25.4, 6), round(a5.height * 25.4, 6)) == (148, 210)
    half = PAPERS[USUAL[UnitSystem.US]]
    assert (half.width, half.height) == (5.5, 8.5)
