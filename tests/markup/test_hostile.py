"""Nothing gets in by reading a folder: no network, no file outside, no endless read."""

from __future__ import annotations

import os
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pyogrio
import pytest
import rasterio

from reachmap.base import safe_files as sized
from reachmap.base.errors import MarkupError
from reachmap.base.rasters import DRIVERS, open_raster
from reachmap.base.safe_files import FileKind
from reachmap.base.sniff import Content
from reachmap.markup import dem_look, read_markup
from reachmap.markup.files import drawing_files
from reachmap.markup.found import input_files
from reachmap.markup.gauge_of_folder import folder_gauge
from reachmap.web.editor.basemap import basemap_in, picture_body
from reachmap.web.editor.drawing_file import open_drawing
from reachmap.web.editor.relief import relief
from tests.markup.folders import layers, make, rows, write_dem
from tests.markup.hostile import HOSTILE, PLACE, geojson, kml, kmz, listening, vrt


def without_trees() -> dict:
    return {**rows(), "trees": []}


def faults_of(folder: Path) -> str:
    with pytest.raises(MarkupError) as told:
        read_markup(folder)
    return str(told.value)


def test_the_ear_hears_what_a_careless_reader_does(tmp_path, monkeypatch):
    monkeypatch.setenv("GDAL_HTTP_TIMEOUT", "1")
    with listening() as ear:
        (tmp_path / "dem.tif").write_text(vrt(f"{ear.address}/x.tif"), encoding="utf-8")
        with (
            pytest.raises(rasterio.errors.RasterioError),
            rasterio.open(tmp_path / "dem.tif") as source,
        ):
            source.read()
        assert ear.heard()


@pytest.mark.parametrize("case", HOSTILE)
def test_no_file_of_a_folder_reaches_the_network(case, tmp_path, monkeypatch):
    monkeypatch.setenv("GDAL_HTTP_TIMEOUT", "1")
    make(tmp_path, made=without_trees(), dem=False)
    with listening() as ear:
        HOSTILE[case](tmp_path, f"{ear.address}/{len(case)}")
        try:
            read_markup(tmp_path)
        except MarkupError as error:
            assert all(each.where and each.found and each.fix for each in error.faults)  # noqa: PT017
        open_drawing(tmp_path, "")
        relief(sorted(tmp_path.glob("dem*.tif")), 1.0)
        assert ear.heard() == []


def test_what_lies_beside_a_dem_is_not_read(tmp_path):
    make(tmp_path)
    plain = read_markup(tmp_path)
    (tmp_path / "dem.tif.ovr").write_text(vrt("x"), encoding="utf-8")
    (tmp_path / "dem.tif.aux.xml").write_text("<PAMDataset><", encoding="utf-8")
    assert read_markup(tmp_path).dems == plain.dems


def test_a_picture_called_dem_is_told_in_words(tmp_path):
    make(tmp_path, dem=False)
    (tmp_path / "dem.tif").write_text(vrt("x"), encoding="utf-8")
    assert "DEM dem.tif: it cannot be read (it is not a GeoTIFF)" in faults_of(tmp_path)


def test_an_entity_never_reads_a_file(tmp_path):
    make(tmp_path / "reach", made=without_trees())
    (tmp_path / "secret.txt").write_text("a secret", encoding="utf-8")
    head = f'<!DOCTYPE kml [<!ENTITY s SYSTEM "{(tmp_path / "secret.txt").as_uri()}">]>'
    text = kml(PLACE.format("<name>&s;</name>"), head)
    (tmp_path / "reach" / "trees.kml").write_text(text, encoding="utf-8")
    told = faults_of(tmp_path / "reach")
    assert "trees.kml: it cannot be read (it declares entities" in told
    assert "a secret" not in told


LINKS = ("reach.toml", "markup.gpkg", "dem.tif", "gauge/record.csv", "trees.geojson", "trees.prj")


@pytest.mark.parametrize("name", LINKS)
def test_links_that_lead_out_are_refused(name, tmp_path):
    folder = make(tmp_path / "reach", made=without_trees())
    if name == "trees.prj":
        layers()["trees"].to_file(folder / "trees.shp")
    if name == "trees.geojson":
        (folder / name).write_text(geojson(), encoding="utf-8")
    outside = tmp_path / "outside"
    (folder / name).rename(outside)
    (folder / name).symlink_to(outside)
    told = faults_of(folder)
    assert f"{Path(name).name}: it is a link that leads out of the folder" in told
    assert name not in [path.relative_to(folder).as_posix() for path in input_files(folder)]


def test_links_within_the_folder_stay_allowed(tmp_path):
    folder = make(tmp_path)
    (folder / "ground").mkdir()
    (folder / "dem.tif").rename(folder / "ground" / "north.tif")
    (folder / "dem.tif").symlink_to(folder / "ground" / "north.tif")
    assert read_markup(folder).dems == (folder / "dem.tif",)


def test_a_gauge_that_leads_out_is_a_fault_of_the_gauge_too(tmp_path):
    folder = make(tmp_path / "reach")
    (folder / "gauge" / "record.csv").rename(tmp_path / "outside.csv")
    (folder / "gauge" / "record.csv").symlink_to(tmp_path / "outside.csv")
    assert any("leads out" in fault.found for fault in folder_gauge(folder).faults)


def test_pictures_beneath_the_drawing_stay_inside(tmp_path):
    folder = tmp_path / "reach" / "underlay"
    folder.mkdir(parents=True)
    name = "picture-0123abcd.png"
    (tmp_path / "secret").write_bytes(b"secret")
    (folder / name).symlink_to(tmp_path / "secret")
    assert picture_body(tmp_path / "reach", name) is None
    (folder / name).unlink()
    (folder / name).write_bytes(b"own")
    assert picture_body(tmp_path / "reach", name) == (b"own", "image/png")
    (tmp_path / "told.json").write_text('{"credit": "from outside"}', encoding="utf-8")
    (folder / "underlay.json").symlink_to(tmp_path / "told.json")
    assert basemap_in(tmp_path / "reach")["credit"] == ""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize(
    "name", ["reach.toml", "markup.gpkg", "dem.tif", "gauge/record.csv", "trees.geojson"]
)
def test_pipes_are_never_waited_for(name, tmp_path):
    folder = make(tmp_path)
    (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / name)
    assert f"{Path(name).name}: it is not a plain file" in faults_of(folder)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize("part", ["-wal", "-shm", "-journal"])
def test_pipes_beside_a_database_are_never_waited_for(part, tmp_path):
    folder = make(tmp_path)
    os.mkfifo(folder / f"markup.gpkg{part}")
    assert "markup.gpkg: it cannot be read (it is not a plain file)" in faults_of(folder)


@pytest.mark.parametrize("name", ["reach.toml", "trees.kml", "gauge/record.csv"])
def test_files_larger_than_their_kind_are_never_read(name, tmp_path):
    folder = make(tmp_path, made=without_trees())
    with (folder / name).open("wb") as stream:
        stream.truncate(5_000_000_000)  # nothing in it: takes no room on the disk
    told = faults_of(folder)
    assert f"{Path(name).name}: it has 5,000 MB" in told
    assert name not in [path.relative_to(folder).as_posix() for path in input_files(folder)]


def test_a_kmz_that_unpacks_to_too_much_is_refused(tmp_path, monkeypatch):
    monkeypatch.setitem(sized.LARGEST, FileKind.TEXT, 100_000)
    folder = make(tmp_path, made=without_trees())
    with zipfile.ZipFile(folder / "trees.kmz", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("doc.kml", kml(PLACE.format("") + " " * 1_000_000))
    assert (folder / "trees.kmz").stat().st_size < 10_000
    assert "trees.kmz: it cannot be read (it holds more than" in faults_of(folder)


def test_a_zipped_shapefile_is_no_format(tmp_path):
    folder = make(tmp_path)
    (folder / "trees.shp.zip").write_bytes(kmz("x"))
    (folder / "trees.zip").write_bytes(kmz("x"))
    assert [path.name for path in drawing_files(folder)] == ["markup.gpkg"]


ENDLESS = (
    "CREATE VIEW {} AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) "
    "SELECT x AS fid, NULL AS geom, x AS height FROM c"
)


def test_layers_worked_out_while_read_are_refused(tmp_path):
    folder = make(tmp_path)
    with closing(sqlite3.connect(folder / "markup.gpkg")) as database:
        database.execute("ALTER TABLE trees RENAME TO kept")
        database.execute(ENDLESS.format("trees"))
        database.commit()
    assert "its table 'trees' is worked out while it is read" in faults_of(folder)


def test_columns_worked_out_while_read_are_refused(tmp_path):
    folder = make(tmp_path)
    with closing(sqlite3.connect(folder / "markup.gpkg")) as database:
        database.execute("ALTER TABLE rocks ADD COLUMN big AS (hex(zeroblob(900000000)))")
        database.commit()
    assert "its table 'rocks' is worked out while it is read" in faults_of(folder)


def test_views_that_no_layer_is_are_left_alone(tmp_path):
    folder = make(tmp_path)
    with closing(sqlite3.connect(folder / "markup.gpkg")) as database:
        database.execute(ENDLESS.format("st_geometry_columns"))
        database.commit()
    assert read_markup(folder).rivers


def test_a_database_that_is_no_geopackage_is_refused(tmp_path):
    folder = make(tmp_path)
    (folder / "trees.gpkg").unlink(missing_ok=True)
    with closing(sqlite3.connect(folder / "trees.gpkg")) as database:
        database.execute("CREATE TABLE trees (height)")
        database.commit()
    assert "trees.gpkg: it cannot be read (it is not a GeoPackage)" in faults_of(folder)


def test_a_dem_whose_blocks_fill_the_memory_is_refused(tmp_path):
    folder = make(tmp_path, dem=False)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", width=65_536, height=65_536, count=1,
        dtype="float32", crs="EPSG:32607", transform=rasterio.Affine(1, 0, 5e5, 0, -1, 5.2e6),
        tiled=True, blockxsize=65_536, blockysize=65_536, compress="deflate", sparse_ok=True,
    ):  # fmt: skip
        pass
    assert "its tiles are too large (65,536 by 65,536 cells)" in faults_of(folder)


def test_options_that_close_the_network_do_not_outlast_a_read(tmp_path):
    write_dem(tmp_path / "dem.tif")
    read_markup(make(tmp_path))
    for name in ("CPL_VSIL_CURL_ALLOWED_EXTENSIONS", "LIBKML_RESOLVE_STYLE"):
        assert pyogrio.get_gdal_config_option(name) is None


def test_a_dem_that_names_other_files_is_told_in_words(tmp_path):
    folder = make(tmp_path, dem=False)
    HOSTILE["a DEM that names an overview"](folder, "http://127.0.0.1:9")
    assert "DEM dem.tif: it cannot be read (it names other files (overviews))" in faults_of(folder)


def test_only_the_driver_of_geotiffs_opens_a_dem(tmp_path, monkeypatch):
    drivers = {**DRIVERS, Content.VRT: "GTiff"}
    monkeypatch.setattr("reachmap.base.rasters.DRIVERS", drivers)
    (tmp_path / "dem.tif").write_text(vrt("x"), encoding="utf-8")
    with pytest.raises(rasterio.errors.RasterioError), open_raster(tmp_path / "dem.tif"):
        pass


def test_a_dem_of_more_cells_than_a_reach_has_is_refused(tmp_path, monkeypatch):
    folder = make(tmp_path / "reach")
    assert read_markup(folder).dems
    monkeypatch.setattr(dem_look, "MOST_CELLS", 1000)
    with pytest.raises(MarkupError, match=r"it holds \d+ x \d+ cells. Cut it to the reach"):
        read_markup(folder)
