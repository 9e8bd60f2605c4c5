"""How deep one stands and the room behind: the doubtful figure; unknown wins, wherever shown."""

from __future__ import annotations

import base64
import json
import math
import zlib
from dataclasses import replace

import gpxpy
import numpy as np
import pytest
from lxml import html as lxml_html
from shapely import box

from reachmap.angler.places import Places, combined_places, places_by_water
from reachmap.base.grid import Grid
from reachmap.outputs.handheld import write_gpx
from reachmap.outputs.places import zone_ends
from reachmap.outputs.sheet import sheet_page
from reachmap.outputs.webmap.book import Parts, book, placed_features
from reachmap.outputs.webmap.layers import features
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.tiles import cut
from reachmap.text.places import NO_PLACE
from tests.made import made_ground
from tests.outputs.made_product import made_product

LABEL = "2400cfs"
RUN = "First Gravel"  # its water B1 has two places to stand


@pytest.fixture(scope="module")
def product():
    return made_product()


def with_stands(product, depths, rooms):
    """Return the product with the depths [m] and rooms [m] of B1's two places at the flow."""
    stations = product.layers["stations"].copy()
    mine = (stations["flow_label"] == LABEL) & stations["code"].str.startswith("B1")
    assert mine.sum() == 2
    stations.loc[mine, "depth_m"] = depths
    stations.loc[mine, "room_m"] = rooms
    return replace(product, layers={**product.layers, "stations": stations})


def on_sheet(product) -> dict[str, str]:
    """Return what the sheet prints of standing and of the room behind for B1's run."""
    page = lxml_html.fromstring(sheet_page(product, LABEL))
    (panel,) = page.xpath(f"//article[h2/span='{RUN}']")
    told = {row[0].text_content(): row.text_content() for row in panel.xpath(".//p[b]")}
    return {name.lower(): told[name].removeprefix(f"{name} ") for name in ("Stand", "Room")}


def on_map(product) -> list[dict[str, str]]:
    """Return the rows of B1's card and of its run's card on the map."""
    cards = [f.card for f in features(product) if f.flow == 1 and f.label.startswith("B1")]
    rows = [dict(card.rows) for card in cards if card.title.startswith("Inside bend")]
    page = PageGrid.over(Grid.of(product.ground))
    tiles = cut(page, product.ground, product.flows)
    parts = Parts.of(product, page, tiles, placed_features((), page))
    held = json.loads(zlib.decompress(base64.b64decode(book(parts, [1], 0)["book"])))
    (run,) = [run for run in held["runs"] if run["name"] == RUN]
    return [*rows, dict(run["at"][0]["standing"])]


def in_gpx(product, folder) -> list[str]:
    """Return what the GPX file says of B1 and of its run."""
    (path,) = write_gpx(product, folder, labels=(LABEL,))
    points = gpxpy.parse(path.read_text(encoding="utf-8")).waypoints
    said = [p.description for p in points if p.name == "B01TB" or f"of {RUN} at" in p.description]
    assert len(said) == 3
    return said


def test_the_deepest_place_to_stand_is_shown_not_the_shallowest(product, tmp_path):
    made = with_stands(product, [0.3048 * 1.0, 0.3048 * 2.5], [6.0, 6.0])
    assert "(2.5 ft)" in on_sheet(made)["stand"]
    assert "1 ft" not in on_sheet(made)["stand"]
    shown = on_map(made)
    assert len(shown) == 2
    assert all(row["Place to stand"] == "to 2.5 ft (0.8 m)" for row in shown)
    assert all("Place to stand: to 2.5 ft;" in said for said in in_gpx(made, tmp_path))


def test_the_least_room_behind_is_shown(product, tmp_path):
    made = with_stands(product, [0.3, 0.3], [0.3048 * 20, 0.3048 * 44])
    assert on_sheet(made)["room"] == "20 ft at the tightest place"
    assert all(row["Least room behind"] == "20 ft (6 m)" for row in on_map(made))
    assert all("room behind: 20 ft." in said for said in in_gpx(made, tmp_path))


@pytest.mark.parametrize("unknown", [np.nan, np.inf])
def test_room_that_one_place_does_not_know_is_known_nowhere(product, tmp_path, unknown):
    made = with_stands(product, [0.3, 0.3], [unknown, 0.3048 * 44])
    assert on_sheet(made)["room"] == "not known"
    assert all(row["Least room behind"] == "not known" for row in on_map(made))
    assert all("room behind: not known." in said for said in in_gpx(made, tmp_path))


def test_a_depth_that_one_place_does_not_know_is_known_nowhere(product, tmp_path):
    made = with_stands(product, [np.nan, 0.01], [6.0, 6.0])
    assert ", how deep is not known;" in on_sheet(made)["stand"]
    assert all(row["Place to stand"] == "not known" for row in on_map(made))
    assert all("Place to stand: not known;" in said for said in in_gpx(made, tmp_path))


def test_only_where_every_place_is_dry_does_one_stand_on_the_bank(product):
    assert ", on the bank;" in on_sheet(with_stands(product, [0.0, 0.04], [6.0, 6.0]))["stand"]
    wet = on_sheet(with_stands(product, [0.0, 0.06], [6.0, 6.0]))["stand"]
    assert ", to shin deep (0.2 ft);" in wet


def test_water_without_a_place_says_so(product):
    none = product.layers["stations"].iloc[:0]
    bare = replace(product, layers={**product.layers, "stations": none})
    assert on_sheet(bare) == {"stand": NO_PLACE, "room": NO_PLACE}
    assert on_map(bare)[0]["Place to stand"] == NO_PLACE
    assert places_by_water(none) == {}


def test_the_ends_of_a_zone_are_its_uppermost_and_lowermost_corners():
    ground = made_ground(length=400)  # straight, to the east
    x, y = float(ground["line_x"][0]), float(ground["line_y"][0])
    zones = [box(x + 100, y - 5, x + 140, y + 5), box(x + 300, y - 9, x + 310, y)]
    found = zone_ends(zones, ground)
    assert [(top.x, foot.x) for top, foot in found] == [(x + 100, x + 140), (x + 300, x + 310)]
    assert zone_ends([], ground) == []


def test_several_waters_together_hold_what_the_worst_of_them_holds():
    shallow, deep, blind = Places(2, 0.2, 9.0), Places(1, 0.8, 4.0), Places(1, math.nan, 3.0)
    assert combined_places([shallow, deep, Places(0)]) == Places(3, 0.8, 4.0)
    assert math.isnan(combined_places([shallow, blind]).deepest_m)
    assert combined_places([shallow, blind]).least_room_m == 3.0
    assert math.isnan(combined_places([shallow, Places(1, math.inf, 3.0)]).deepest_m)
    assert combined_places([]).count == 0
