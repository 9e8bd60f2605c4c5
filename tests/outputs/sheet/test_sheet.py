"""The pocket sheet: geometry of the strips, what the table says, and text that stays text."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from lxml import html as lxml_html
from shapely import Point, box

from reachmap.base.schema import layer_frame
from reachmap.base.words import UnitSystem
from reachmap.outputs.handheld import water_name
from reachmap.outputs.palette import Pattern
from reachmap.outputs.sheet import sheet_page, write_sheets
from reachmap.outputs.sheet.hatch import hatch_dots, hatch_lines
from reachmap.outputs.sheet.page import MOST_ROWS, PAPERS, USUAL
from reachmap.outputs.sheet.rows import table_rows
from reachmap.outputs.sheet.strips import cut_strips
from tests.browser import running_browser, watched_page
from tests.made import made_ground
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import STRICT, made_product

NASTY = "</title><script>alert(1)</script>{{7*7}}\u202e" + "x" * 10_000


@pytest.fixture(scope="module")
def product():
    return made_product()


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


def test_the_table_names_are_those_of_the_gpx_files(product):
    for label in product.labels:
        water = product.layers["water"]
        water = water[water["flow_label"] == label]
        names = {water_name(code) for code in water["code"]}
        assert {row.name for row in table_rows(product, label)} == names


def test_what_nobody_knows_is_a_question_mark_never_a_zero(product):
    stations = product.layers["stations"].copy()
    stations["room_m"] = np.nan
    stations["cast_m"] = np.nan
    layers = {**product.layers, "stations": stations}
    bare = replace(product, layers=layers)
    rows = [row for row in table_rows(bare, product.labels[1]) if row.kind == "inside_bend"]
    assert rows
    for row in rows:
        assert (row.room, row.cast) == ("not known", "?")


def test_a_sheet_has_everything_in_it_and_loads_nothing(product, tmp_path):
    for path in write_sheets(product, tmp_path):
        if path.suffix == ".html":
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"(?:src|href)=\"(?!data:)", text)
            assert "People drown wading" in text
            assert "default-src 'none'" in text


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("units", list(UnitSystem))
def test_either_paper_goes_with_either_units(paper, units):
    other = made_product(units=units)
    text = sheet_page(other, other.labels[0], paper=paper)
    assert f"size:{PAPERS[paper].name}" in text
    heads = [head.text_content() for head in lxml_html.fromstring(text).xpath("//th")]
    unit = "ft" if units is UnitSystem.US else "m"
    assert heads == [
        "No.", "Run", f"Deep {unit}", f"Fast {unit}/s", f"Wade {unit}", f"Cast {unit}",
        f"Room {unit}", "Tip", "Min",
    ]  # fmt: skip


def test_prime_water_and_guesses_are_marked_in_the_table_and_on_the_map(product):
    water = product.layers["water"].copy()
    water["prime"] = water["code"] == "B1"
    water["confidence"] = np.where(water["code"] == "B2", "low", "good")
    marked = replace(product, layers={**product.layers, "water": water})
    page = lxml_html.fromstring(sheet_page(marked, product.labels[1]))
    names = [cell.text_content() for cell in page.xpath("//tbody/tr/td[1]")]
    assert "B01*" in names
    assert "B02~" in names
    drawn = page.xpath("//svg//text/text()")
    assert "B02~" in drawn
    assert len(page.xpath("//svg[@class='strip']//path[@stroke-dasharray='3 2']")) >= 1


def test_water_with_a_hazard_or_shut_by_a_hand_more_water_is_marked(product):
    label, crs = product.labels[1], product.layers["water"].crs
    row = {
        "flow": 1.0, "flow_label": label, "number": 1, "kind": "strainer", "distance_m": 30.0,
        "toward": "down", "left_out": 0, "note": "", "geometry": Point(0, 0),
    }  # fmt: skip
    near = [
        row | {"water": "B1", "way": "current"},
        row | {"water": "B2", "way": "straight"},
    ]
    stations = product.layers["stations"].copy()
    stations["hand_shuts"] = stations["code"].str.startswith("B2")
    layers = {"hazards_near": layer_frame("hazards_near", near, str(crs)), "stations": stations}
    marked = replace(product, layers={**product.layers, **layers})
    page = lxml_html.fromstring(sheet_page(marked, label))
    names = [cell.text_content() for cell in page.xpath("//tbody/tr/td[1]")]
    assert any(name.startswith("B01") and "!" in name and "^" not in name for name in names)
    assert any(name.startswith("B02") and "^" in name and "!" not in name for name in names)
    foot = page.xpath("//p[@class='foot']")[0].text_content()
    assert "^ a hand's breadth more water shuts" in foot
    assert "in the table: where you fish, down the current or on your walk" in foot


def test_places_worth_a_note_are_pointed_to(product):
    text = sheet_page(with_doubt(product), product.labels[0])
    assert "Worth a note: A1 to A10 in the GPS." in text


def test_a_preview_and_an_invented_river_say_so():
    product = made_product(preview=True)
    text = sheet_page(product, product.labels[0])
    assert "PREVIEW" in text
    assert "This river is invented." in text


def test_hostile_names_stay_text():
    product = with_doubt(made_product(text=NASTY), text=NASTY)
    for label in product.labels:
        page = lxml_html.fromstring(sheet_page(product, label))
        assert page.xpath("//script") == []
        assert len(page.xpath("//h1")[0].text_content()) < 120


def test_paper_sizes_are_half_letter_and_a5():
    # ISO 216: A5 is 148 mm by 210 mm; half letter is 5.5 in by 8.5 in (half of ANSI A), from memory
    a5 = PAPERS[USUAL[UnitSystem.METRIC]]
    assert (round(a5.width * 25.4, 6), round(a5.height * 25.4, 6)) == (148, 210)
    half = PAPERS[USUAL[UnitSystem.US]]
    assert (half.width, half.height) == (5.5, 8.5)


@pytest.mark.browser
@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("full", [False, True])
def test_nothing_of_a_sheet_is_cut_off_however_many_margins_are_off(paper, full, tmp_path):
    made = with_doubt(made_product(length=2600.0 if full else 900.0))
    off = [f"margin number {number} in words of its own" for number in range(40)]
    told = STRICT | {"margins_off": off, "rule": "r" * 200, "easy_needs": "needs " * 30}
    strict = replace(made, report={**made.report, "wading_terms": told})
    path = write_sheets(strict, tmp_path, paper=paper)[2]
    with running_browser() as browser, watched_page(browser) as watched:
        watched.page.goto(path.as_uri())
        watched.page.emulate_media(media="print")
        inside = watched.page.evaluate(
            """() => {const sheet = document.querySelector('.sheet').getBoundingClientRect();
            return [...document.querySelectorAll('.sheet > *, td')].map(e => [e.outerHTML,
              e.getBoundingClientRect().bottom - sheet.bottom,
              e.getBoundingClientRect().right - sheet.right]);}"""
        )
        rows = watched.page.locator("tbody tr").count()
    assert (rows == MOST_ROWS) is full
    assert [one for one in inside if one[1] > 0.5 or one[2] > 0.5] == []


@pytest.mark.browser
@pytest.mark.parametrize("paper", list(PAPERS))
def test_a_sheet_prints_on_one_page_without_a_request(product, tmp_path, paper):
    path = write_sheets(product, tmp_path, paper=paper)[0]
    with running_browser() as browser, watched_page(browser) as watched:
        watched.page.goto(path.as_uri())
        made = watched.page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", made)) == 1
    assert watched.requests == [path.as_uri()]
    assert watched.messages == []
