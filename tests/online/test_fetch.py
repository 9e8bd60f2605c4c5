"""What is fetched, through the libraries' own doors, from recorded answers."""

from __future__ import annotations

import csv
import json
import shutil

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.warp import transform_bounds

from reachmap.base.errors import FaultsError
from reachmap.markup.file_facts import Use
from reachmap.markup.found import found_files
from reachmap.markup.starter import write_new
from reachmap.online import terrain
from reachmap.online.box import Box
from reachmap.online.find import NotFetchedError, Search, chosen, fetch, find
from reachmap.online.river import main_stem
from reachmap.text.online import got_lines
from tests.online.answers import (
    ADDRESS,
    BOX,
    DATA,
    ELEVATION,
    FILES,
    HERE,
    TILE,
    WATER,
    WHEN,
    Answer,
    offered,
)


def sources(folder):
    with (folder / "sources.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_terrain_is_fetched_in_pieces_that_stay_when_the_rest_is_cut_short(services, folder):
    offer = offered(services, "terrain-1m")
    heights = services.answers[ELEVATION]
    served = []

    def tired(asked):
        served.append(asked)
        return heights(asked) if len(served) <= 2 else Answer(b"busy", "text/plain", 400)

    services.answers[ELEVATION] = tired
    with pytest.raises(NotFetchedError, match="terrain-1m"):
        fetch(folder, [offer], HERE, WHEN)
    assert [one.name for one in found_all(folder)] == []  # nothing half-written
    services.answers[ELEVATION] = heights
    services.asked.clear()
    [got] = fetch(folder, [offer], HERE, WHEN)
    pieces = len(terrain_boxes())
    assert len(services.asked) == pieces - 2
    assert len(got.files) == pieces
    assert not (folder / ".fetching").exists()


def terrain_boxes():
    import seamless_3dep

    return seamless_3dep.decompose_bbox(BOX.bounds, 1, terrain.PIECE_PIXELS)[0]


def found_all(folder):
    return [one for one in found_files(folder) if one.path.suffix != ".csv"]


def test_fetched_terrain_is_a_ground_that_reachmap_reads_and_covers_the_box(services, folder):
    [got] = fetch(folder, [offered(services, "terrain-10m")], HERE, WHEN)
    [path] = got.files
    [found] = found_all(folder)
    assert (found.path, found.fact.use) == (path, Use.TERRAIN)
    with rasterio.open(path) as source:
        assert source.crs.to_epsg() == 3857
        inside = transform_bounds(source.crs, "EPSG:4326", *source.bounds)
        np.testing.assert_allclose(inside, BOX.bounds, atol=1e-4)
    [row] = sources(folder)
    assert row["file"] == path.name
    assert row["vertical_datum"] == "NAVD88"
    assert row["box"] == "-89.54 43.1 -89.49 43.12"
    assert 'datum = "NAVD88"' in "\n".join(got_lines([got], folder))


def test_another_box_does_not_write_over_the_terrain_of_the_first(services, folder):
    fetch(folder, [offered(services, "terrain-10m")], HERE, WHEN)
    other = Search(Box(-89.52, 43.10, -89.49, 43.12))
    fetch(folder, chosen(find(other), ["terrain-10m"]), other, WHEN)
    assert len(found_all(folder)) == 2


def test_the_river_is_the_recorded_main_stem_cut_to_the_box_and_drawn_downstream(services, folder):
    [got] = fetch(folder, [offered(services, "river")], HERE, WHEN)
    [line] = gpd.read_file(got.files[0]).geometry
    assert shapely.box(*BOX.bounds).buffer(1e-9).covers(line)
    # the recorded stretches enter the box in the west and leave it in the east
    assert line.coords[0][0] < line.coords[-1][0]
    answer = json.loads((DATA / "nldi_get_flowlines_by_comid.json").read_text(encoding="utf-8"))
    whole = shapely.union_all([shapely.geometry.shape(f["geometry"]) for f in answer["features"]])
    assert line.length == pytest.approx(whole.intersection(shapely.box(*BOX.bounds)).length)
    used = {one.path.name: one.fact.use for one in found_files(folder)}
    assert used == {"river.geojson": Use.DRAWING, "sources.csv": Use.SOURCES}


def test_the_river_line_is_used_in_a_new_folder_and_kept_aside_where_one_is_drawn(
    services, folder, run
):
    write_new(folder)
    [got] = fetch(folder, [offered(services, "river")], HERE, WHEN)
    assert got.files[0].name == "river.geojson"
    _, out, err = run("check", folder)
    assert "it is drawn in" not in out + err
    [got] = fetch(folder, [offered(services, "river")], HERE, WHEN)
    assert got.files[0].name == "found-river.geojson"
    assert "bring this one in on the page" in "\n".join(got_lines([got], folder))


def test_a_river_elsewhere_is_none():
    answer = json.loads((DATA / "nldi_get_flowlines_by_comid.json").read_text(encoding="utf-8"))
    assert main_stem([answer], Box(10, 10, 10.1, 10.1)) is None
    assert main_stem([{"features": []}, {}], BOX) is None


def test_a_gauge_comes_as_a_year_of_record(services, folder):
    [got] = fetch(folder, [offered(services, "gauge-05427718")], HERE, WHEN)
    assert [file.name for file in got.files] == ["USGS-05427718-flow.csv"]
    asked = next(one for one in services.of(WATER) if "continuous" in one.path)
    assert asked.query["monitoring_location_id"] == ["USGS-05427718"]
    [row] = sources(folder)
    assert row["file"] == "gauge/USGS-05427718-flow.csv"


def test_a_forecast_is_kept_for_the_days_and_is_no_part_of_the_record(services, folder):
    [got] = fetch(folder, [offered(services, "forecast-fihm1")], HERE, WHEN)
    [found] = found_all(folder)
    assert (found.path.name, found.fact.use) == ("forecast-fihm1.json", Use.FORECAST)
    assert "--forecast DIR/forecast-fihm1.json" in "\n".join(got_lines([got], folder))


def test_a_file_of_a_catalogue_goes_on_where_it_was_cut_short(services, folder):
    offer = offered(services, "t-12-dtm")
    services.answers[FILES] = lambda _: Answer(TILE, "image/tiff", mark='"one"', cut=400_000)
    with pytest.raises(NotFetchedError, match=r"ask again to go on|Connection broken"):
        fetch(folder, [offer], HERE, WHEN)
    assert found_all(folder) == []
    services.answers[FILES] = lambda _: Answer(TILE, "image/tiff", mark='"one"')
    services.asked.clear()
    seen = []
    search = Search(BOX, ADDRESS, lambda _step, done, total: seen.append((done, total)))
    [got] = fetch(folder, [offer], search, WHEN)
    [asked] = services.asked
    had = int(asked.wanted.removeprefix("bytes=").rstrip("-"))
    assert 0 < had < seen[0][0]  # not from the beginning: what was there stayed
    assert got.files[0].read_bytes() == TILE
    assert seen[-1] == (len(TILE), len(TILE))


def test_a_file_that_changed_meanwhile_is_fetched_from_the_beginning(services, folder):
    offer = offered(services, "t-12-dtm")
    services.answers[FILES] = lambda _: Answer(TILE, "image/tiff", mark='"one"', cut=400_000)
    with pytest.raises(NotFetchedError):
        fetch(folder, [offer], HERE, WHEN)
    changed = TILE[::-1]
    services.answers[FILES] = lambda _: Answer(changed, "image/tiff", mark='"two"')
    [got] = fetch(folder, [offer], HERE, WHEN)
    assert got.files[0].read_bytes() == changed


INWARD = ["http://127.0.0.1/t.tif", "http://10.0.0.8/t.tif", "http://printer.local/t.tif"]


@pytest.mark.parametrize("address", INWARD)
def test_an_address_into_this_network_is_not_fetched(services, folder, address):
    offer = offered(services, "t-12-dtm")
    inward = type(offer)(**{name: getattr(offer, name) for name in offer.__slots__[:-1]},
                         ask={**offer.ask, "href": address})  # fmt: skip
    with pytest.raises(NotFetchedError, match="points into this network"):
        fetch(folder, [inward], HERE, WHEN)
    assert not services.asked


def test_what_the_angler_made_is_never_written_over(services, folder):
    mine = folder / "imagery-photo-7-visual.tif"
    mine.write_bytes(b"mine")
    [got] = fetch(folder, [offered(services, "photo-7-visual")], HERE, WHEN)
    assert mine.read_bytes() == b"mine"
    assert got.files[0].name == "imagery-photo-7-visual-2.tif"
    [again] = fetch(folder, [offered(services, "photo-7-visual")], HERE, WHEN)
    assert again.files[0].name == "imagery-photo-7-visual-2.tif"  # the same thing, newer


def test_what_came_is_kept_and_noted_where_something_else_did_not(services, folder):
    listing = find(HERE)
    services.answers[FILES] = lambda _: Answer(b"", status=403)
    with pytest.raises(NotFetchedError) as error:
        fetch(folder, chosen(listing, ["t-12-dtm", "terrain-10m"]), HERE, WHEN)
    assert [one.offer.name for one in error.value.got] == ["terrain-10m"]
    assert [fault.where for fault in error.value.faults] == ["t-12-dtm"]
    assert len(sources(folder)) == 1


def test_the_note_of_sources_keeps_what_was_written_in_it_by_hand(services, folder):
    fetch(folder, [offered(services, "terrain-10m")], HERE, WHEN)
    note = folder / "sources.csv"
    note.write_text(note.read_text(encoding="utf-8") + "mine.tif,by hand", encoding="utf-8")
    fetch(folder, [offered(services, "forecast-fihm1")], HERE, WHEN)
    rows = [row["file"] for row in sources(folder)]
    assert rows[1:] == ["mine.tif", "forecast-fihm1.json"]


def test_a_missing_folder_is_told(services, tmp_path):
    with pytest.raises(FaultsError, match="no such folder"):
        fetch(tmp_path / "none", [offered(services, "river")], HERE, WHEN)
    shutil.rmtree(tmp_path, ignore_errors=True)
