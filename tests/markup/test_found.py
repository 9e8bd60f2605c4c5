"""Every file of a reach folder is used or said not to be, told by what is in it."""

from __future__ import annotations

import gpxpy.gpx
import numpy as np
import pytest
import rasterio
import rasterio.shutil
from shapely import LineString

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.file_facts import Unused, Use
from reachmap.markup.found import found_files, input_files
from reachmap.text.files import REASONS, USES, file_lines, file_rows, unused_words
from tests.markup.folders import CRS, X, Y, make, rows, write_dem

RATING = "stage_ft,flow_cfs\n1,300\n3,900\n6,4000\n"


def fates(folder):
    return {one.name: one for one in read_markup(folder).files}


def test_every_file_of_a_whole_folder_has_its_use(tmp_path):
    told = fates(make(tmp_path))
    assert {name: one.use for name, one in told.items()} == {
        "dem.tif": Use.TERRAIN,
        "gauge/rating.csv": Use.RATING,
        "gauge/record.csv": Use.RECORD,
        "markup.gpkg": Use.DRAWING,
        "reach.toml": Use.SETTINGS,
    }


def test_no_visible_file_is_left_out_of_the_list(tmp_path):
    folder = make(tmp_path)
    texts = {
        "notes.txt": b"a note", "scan.pdf": b"%PDF-1.7", "pic.jpg": b"\xff\xd8\xff\xe0",
        "cloud.las": b"LASF" + b"\0" * 400, "all.zip": b"PK\x03\x04", "odd.bin": b"\0\1\2",
        "none.csv": b"", "banks2.geojson": b'{"type": "FeatureCollection", "features": []}',
        "record2.csv": b"time,flow_cfs\n2001-01-01,100\n",
    }  # fmt: skip
    for name, body in texts.items():
        (folder / name).write_bytes(body)
    (folder / "photos").mkdir()
    (folder / "photos" / "a.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    (folder / "written").mkdir()
    (folder / "written" / "map.html").write_text("x", encoding="utf-8")
    told = fates(folder)
    assert set(texts) < set(told)
    why = {name: one.why for name, one in told.items() if one.use is Use.NOTHING}
    assert why == {
        "notes.txt": Unused.DOCUMENT, "scan.pdf": Unused.DOCUMENT, "pic.jpg": Unused.REFUSED,
        "cloud.las": Unused.REFUSED, "all.zip": Unused.ARCHIVE, "odd.bin": Unused.UNKNOWN,
        "none.csv": Unused.EMPTY, "banks2.geojson": Unused.NAMELESS,
        "record2.csv": Unused.RECORD_OUTSIDE, "photos/": Unused.SUBFOLDER,
    }  # fmt: skip
    for name in why:
        assert any(line.startswith(f"  {name}: ") for line in file_lines(tuple(told.values())))


def test_each_use_and_each_reason_has_its_words():
    assert set(USES) == set(Use) - {Use.NOTHING}
    assert set(REASONS) == set(Unused) - {Unused.NONE, Unused.LINK_OUT}


def test_a_raster_under_its_own_name_is_the_ground(tmp_path):
    folder = make(tmp_path, dem=False)
    write_dem(folder / "n46w141_tile.tif")
    reach = read_markup(folder)
    assert [path.name for path in reach.dems] == ["n46w141_tile.tif"]
    assert folder / "n46w141_tile.tif" in input_files(folder)
    assert not any("There is no DEM" in one for one in reach.assumed)


@pytest.mark.parametrize("name", ["first_return_dsm.tif", "tile-hillshade.tif", "slope.tif"])
def test_a_raster_that_is_no_ground_by_its_name_is_not_used(tmp_path, name):
    folder = make(tmp_path, dem=False)
    write_dem(folder / name)
    reach = read_markup(folder)
    assert not reach.dems
    assert [one.why for one in reach.files if one.name == name] == [Unused.NOT_GROUND]


def test_a_raster_of_another_place_is_not_used(tmp_path):
    folder = make(tmp_path)
    write_dem(folder / "far.tif")
    with rasterio.open(folder / "far.tif", "r+") as target:
        target.transform = rasterio.Affine.translation(20_000, 0) @ target.transform
    reach = read_markup(folder)
    assert [path.name for path in reach.dems] == ["dem.tif"]
    assert fates(folder)["far.tif"].why is Unused.ELSEWHERE


def test_pictures_and_shades_are_no_heights(tmp_path):
    folder = make(tmp_path)
    shape = {"height": 4, "width": 4, "crs": CRS, "transform": rasterio.Affine(9, 0, X, 0, -9, Y)}
    for name, count in (("ortho1.tif", 3), ("relief8.tif", 1)):
        with rasterio.open(
            folder / name, "w", driver="GTiff", dtype="uint8", count=count, **shape
        ) as to:
            to.write(np.zeros((count, 4, 4), dtype="uint8"))
    told = fates(folder)
    assert told["ortho1.tif"].why is Unused.TIFF_PICTURE
    assert told["relief8.tif"].why is Unused.TIFF_BYTES
    assert folder / "ortho1.tif" not in input_files(folder)


def test_an_ascii_grid_is_read_with_the_crs_beside_it(tmp_path):
    folder = make(tmp_path)
    plain = read_markup(folder)
    rasterio.shutil.copy(str(folder / "dem.tif"), str(folder / "ground.asc"), driver="AAIGrid")
    (folder / "dem.tif").unlink()
    reach = read_markup(folder)
    assert [path.name for path in reach.dems] == ["ground.asc"]
    assert fates(folder)["ground.prj"].use is Use.BESIDE
    assert folder / "ground.prj" in input_files(folder)
    assert plain.plan.slope == reach.plan.slope
    (folder / "ground.prj").unlink()
    assert fates(folder)["ground.asc"].detail == "it does not say its CRS"


def vrt_of(folder, tile, name="dem.vrt"):
    rasterio.shutil.copy(str(folder / tile), str(folder / name), driver="VRT")


def test_a_vrt_is_a_list_of_tiles_of_the_folder(tmp_path):
    folder = make(tmp_path)
    (folder / "tiles").mkdir()
    (folder / "dem.tif").rename(folder / "tiles" / "a.tif")
    vrt_of(folder, "tiles/a.tif")
    reach = read_markup(folder)
    assert [path.relative_to(folder).as_posix() for path in reach.dems] == ["tiles/a.tif"]
    assert {"dem.vrt", "tiles/a.tif"} <= set(reach.digests)
    assert fates(folder)["dem.vrt"].use is Use.TILE_LIST


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        (">dem1.tif<", ">../other.tif<", "is not a file of this folder"),
        (">dem1.tif<", ">/etc/passwd<", "is not a file of this folder"),
        (">dem1.tif<", ">/vsicurl/http://127.0.0.1/x.tif<", "is not a file of this folder"),
        (">dem1.tif<", ">none.tif<", "which is not there"),
        (">dem1.tif<", ">reach.toml<", "no GeoTIFF of heights"),
        ("<VRTDataset ", '<VRTDataset subClass="VRTWarpedDataset" ', "no plain list of tiles"),
        ("<SourceBand>1<", "<SourceBand>2<", "another band"),
        ("</SimpleSource>", "<LUT>0:0,1:9</LUT></SimpleSource>", "no plain list of tiles"),
        ("<VRTDataset", "<!DOCTYPE x><VRTDataset", "entities"),
    ],
)
def test_a_vrt_that_does_more_is_a_fault_if_called_dem_and_told_otherwise(
    tmp_path, old, new, found
):
    folder = make(tmp_path)
    (folder / "dem.tif").rename(folder / "dem1.tif")
    (tmp_path / "other.tif").write_bytes((folder / "dem1.tif").read_bytes())
    vrt_of(folder, "dem1.tif")
    text = (folder / "dem.vrt").read_text()
    assert old in text
    (folder / "dem.vrt").write_text(text.replace(old, new, 1))
    with pytest.raises(MarkupError, match=found):
        read_markup(folder)
    (folder / "dem.vrt").rename(folder / "mosaic.vrt")
    one = fates(folder)["mosaic.vrt"]
    assert one.why is Unused.ODD_LIST
    assert found in unused_words(one)[0]
    assert unused_words(one)[1]


def test_a_drawing_under_another_name_gives_its_layers(tmp_path):
    folder = make(tmp_path, made={**rows(), "trees": []})
    lon, lat = transform_points(np.array([X + 60.0]), np.array([Y + 30.0]), CRS, WGS84)
    point = gpxpy.gpx.GPXWaypoint(lat[0], lon[0], name="height = 9", type="trees")
    document = gpxpy.gpx.GPX()
    document.waypoints.append(point)
    (folder / "phone export.gpx").write_text(document.to_xml(), encoding="utf-8")
    reach = read_markup(folder)
    assert [one.height_m for one in reach.trees] == [9.0]
    assert fates(folder)["phone export.gpx"].detail == "trees"
    kml = '<kml xmlns="http://www.opengis.net/kml/2.2"><Folder><name>Places</name></Folder></kml>'
    (folder / "places.kml").write_text(kml, encoding="utf-8")
    assert fates(folder)["places.kml"].why is Unused.NO_LAYER


def test_a_kml_of_plain_placemarks_is_not_taken_for_a_misspelt_layer(tmp_path):
    folder = make(tmp_path)
    place = "<Point><coordinates>-141.3,46.2,0</coordinates></Point>"
    (folder / "scouting.kml").write_text(
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'
        f"<name>Parking</name>{place}</Placemark></Document></kml>",
        encoding="utf-8",
    )
    told = fates(folder)["scouting.kml"]
    assert (told.use, told.why) == (Use.NOTHING, Unused.NO_LAYER)


def test_a_layer_that_another_file_holds_is_not_read_twice(tmp_path):
    folder = make(tmp_path)
    (folder / "copy.gpkg").write_bytes((folder / "markup.gpkg").read_bytes())
    plain = len(read_markup(make(tmp_path / "plain")).banks)
    assert len(read_markup(folder).banks) == plain
    assert fates(folder)["copy.gpkg"].why is Unused.DRAWN_ALREADY


def test_a_second_rating_is_a_fault_or_told(tmp_path):
    folder = make(tmp_path)
    (folder / "gauge" / "rating2.csv").write_text(RATING, encoding="utf-8")
    with pytest.raises(MarkupError, match="each holds a rating"):
        read_markup(folder)
    (folder / "gauge" / "rating2.csv").unlink()
    rdb = (
        '# //RATING SHIFTED="x"\nINDEP\tSHIFT\tDEP\tSTOR\n16N\t16N\t16N\t1S\n'
        "1.0\t0\t10\t\n8.0\t0\t100000\t\n"
    )
    (folder / "gauge" / "shifted.exsa.rdb").write_text(rdb, encoding="utf-8")
    told = fates(folder)
    uses = {told[name].use for name in ("gauge/rating.csv", "gauge/shifted.exsa.rdb")}
    assert uses == {Use.RATING, Use.NOTHING}
    unused = next(one for one in told.values() if one.use is Use.NOTHING)
    assert unused.why is Unused.SECOND_RATING


def test_a_river_in_two_pieces_that_meet_is_joined_and_said(tmp_path):
    made = rows()
    (line,) = [row for row in made["river"] if row.get("part", "main") != "side"]
    whole = np.asarray(line["geometry"].coords)
    cut = np.vstack([whole[0], whole.mean(axis=0), whole[-1]])
    pieces = [LineString(cut[:2]), LineString(cut[1:] + np.array([[1.0, 0], [0, 0]]))]
    others = [row for row in made["river"] if row is not line]
    for order in (pieces, pieces[::-1]):
        parts = [{**line, "geometry": piece} for piece in order]
        reach = read_markup(
            make(tmp_path / str(order is pieces), made={**made, "river": [*parts, *others]})
        )
        assert reach.main.line.length == pytest.approx(LineString(whole).length, rel=0.01)
        assert any("in 2 pieces that meet: joined" in one for one in reach.assumed)


def test_pieces_that_do_not_meet_head_to_foot_stay_a_fault(tmp_path):
    made = rows()
    line = made["river"][0]
    whole = np.asarray(line["geometry"].coords)
    middle = whole.mean(axis=0)
    for name, second in (
        ("gap", [middle + np.array([40.0, 0]), whole[-1]]),
        ("reversed", [whole[-1], middle]),
    ):
        parts = [
            {**line, "geometry": LineString([whole[0], middle])},
            {**line, "geometry": LineString(second)},
        ]
        with pytest.raises(MarkupError, match="pieces"):
            read_markup(make(tmp_path / name, made={**made, "river": parts}))


def test_a_link_that_leads_out_is_told_and_not_opened(tmp_path):
    folder = make(tmp_path / "reach")
    write_dem(tmp_path / "other.tif")
    (folder / "tile.tif").symlink_to(tmp_path / "other.tif")
    told = fates(folder)["tile.tif"]
    assert (told.use, told.why) == (Use.NOTHING, Unused.REFUSED)
    assert "leads out of the folder" in unused_words(told)[0]
    assert folder / "tile.tif" not in input_files(folder)


def test_settings_too_large_to_read_are_told_as_such(tmp_path):
    folder = make(tmp_path / "reach")
    with (folder / "reach.toml").open("wb") as stream:
        stream.truncate(5_000_000_000)  # nothing in it: takes no room on the disk
    (told,) = [one.fact for one in found_files(folder) if one.path.name == "reach.toml"]
    assert (told.use, told.why) == (Use.NOTHING, Unused.REFUSED)
    assert "it has 5,000 MB" in unused_words(told)[0]


def test_the_report_has_a_row_for_each_file(tmp_path):
    folder = make(tmp_path)
    (folder / "notes.txt").write_text("x", encoding="utf-8")
    made = file_rows(read_markup(folder).files)
    assert {row["name"] for row in made} == {one.fact.name for one in found_files(folder)}
    for row in made:
        assert (row["used_for"] is None) != (row["why_not"] is None)


def test_what_the_days_read_has_its_use_too(tmp_path):
    folder = make(tmp_path)
    wanted = {
        "clarity-2031.csv": Use.CLARITY, "temperature.csv": Use.WARMTH, "tide1.csv": Use.TIDE,
        "rules.csv": Use.RULES, "log.gpkg": Use.LOG,
    }  # fmt: skip
    for name in wanted:
        (folder / name).write_text("time,flow\n", encoding="utf-8")
    (folder / "log-backups").mkdir()
    told = fates(folder)
    assert {name: told[name].use for name in wanted} == wanted
    assert "log-backups/" not in told
    # the map is read for the clarity and the warmth of the water, too: `build` notices them
    of_the_map = {"clarity-2031.csv", "temperature.csv"}
    assert {path.name for path in input_files(folder)} & set(wanted) == of_the_map
