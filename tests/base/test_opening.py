"""One place opens rasters and layers; KML, GPX and GeoJSON come out of it plain."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pyogrio
import pytest
import rasterio

from reachmap.base.geojson import geojson_table
from reachmap.base.plain_xml import PADDING, plain_xml
from reachmap.base.rasters import open_raster
from reachmap.base.safe_files import LARGEST, FileKind, RefusedError, read_limited, refusal
from reachmap.base.vectors import HEADS, TEXT_ENDINGS, open_vector
from reachmap.markup.files import DRAWING_ENDINGS
from reachmap.markup.files import TEXT_ENDINGS as DRAWING_TEXTS
from tests.markup.folders import write_dem

ROOT = Path(__file__).resolve().parents[2]

OPENERS = re.compile(
    r"(rasterio\.open|MemoryFile|(pyogrio|gpd|geopandas)\.(read_\w+|list_layers|open_arrow)|"
    r"rioxarray\.open_rasterio|fiona\.open|ogr\.Open|gdal\.Open)$"
)

ALLOWED = {"base/rasters.py": {"rasterio.open", "MemoryFile"},
           "base/vectors.py": {"pyogrio.list_layers", "pyogrio.read_dataframe"}}  # fmt: skip


def opened_in(path: Path) -> set[str]:
    """Return the calls in a file by which libraries open rasters or layers for reading."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and OPENERS.match(name := ast.unparse(node.func)):
            mode = [one.value for one in node.args[1:2] if isinstance(one, ast.Constant)]
            if not (name == "rasterio.open" and mode == ["w"]):
                found.add(name)
    return found


def test_rasters_and_layers_are_opened_in_one_place():
    found = {
        path.relative_to(ROOT / "reachmap").as_posix(): names
        for path in sorted((ROOT / "reachmap").rglob("*.py"))
        if (names := opened_in(path))
    }
    assert found == ALLOWED


def test_no_file_takes_an_opener_by_another_name():
    taken = re.compile(
        r"from (rasterio|pyogrio|geopandas|fiona)[\w.]* import "
        r"[^\n]*\b(open|read_\w+|list_layers)\b"
    )
    for path in sorted((ROOT / "reachmap").rglob("*.py")):
        assert not taken.search(path.read_text(encoding="utf-8")), path


def test_every_ending_of_a_drawing_has_its_way_of_opening():
    assert set(DRAWING_ENDINGS) == {*HEADS, *TEXT_ENDINGS}
    assert set(DRAWING_TEXTS) == set(TEXT_ENDINGS)


def test_another_ending_is_refused(tmp_path):
    (tmp_path / "x.gml").write_text("<gml/>", encoding="utf-8")
    with (
        pytest.raises(RefusedError, match=r"end in \.gml are not read"),
        open_vector(tmp_path / "x.gml"),
    ):
        pass


@pytest.mark.parametrize("ending", HEADS)
def test_a_file_that_is_not_what_its_ending_says_is_refused(ending, tmp_path):
    path = tmp_path / f"x{ending}"
    path.write_bytes(b"something else, long enough to have a head")
    with pytest.raises(RefusedError, match="not what its ending"), open_vector(path):
        pass


def test_a_folder_whose_name_is_taken_for_an_archive_is_refused(tmp_path):
    path = tmp_path / "x.zip!y" / "x.fgb"
    path.parent.mkdir()
    path.write_bytes(HEADS[".fgb"] + b"\0" * 20)
    with pytest.raises(RefusedError, match="holds a '!'"), open_vector(path):
        pass


KML = b'<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:o="http://example.org/other">%s</kml>'


def test_plain_xml_keeps_names_fields_and_places():
    inner = b"<Placemark><name>A &amp; B</name><o:far>x</o:far><Point/></Placemark>"
    text = plain_xml(KML % inner, "kml").decode()
    assert "<Placemark><name>A &amp; B</name><Point></Point></Placemark>" in text


def test_the_first_bytes_of_plain_xml_are_ours():
    text = plain_xml(KML % b"<OGRVRTDataSource/><Placemark/>", "kml").decode()
    assert text.index("OGRVRT") > len(PADDING) > 10_000


def test_plain_xml_keeps_schemas_of_its_own_only():
    inner = b'<Placemark><SchemaData schemaUrl="%s"/></Placemark>'
    assert b"schemaUrl" in plain_xml(KML % (inner % b"#own"), "kml")
    assert b"schemaUrl" not in plain_xml(KML % (inner % b"http://127.0.0.1/x#y"), "kml")


def test_plain_xml_leaves_out_what_leads_elsewhere():
    inner = b"<NetworkLink><Link><href>x</href></Link></NetworkLink><styleUrl>x</styleUrl>"
    assert b"href" not in plain_xml(KML % inner, "kml")
    assert b"styleUrl" not in plain_xml(KML % inner, "kml")


@pytest.mark.parametrize(
    ("body", "found"),
    [
        (b"<!DOCTYPE kml []><kml/>", "declares entities"),
        ("<kml/>".encode("utf-16"), "UTF-8"),
        (b"<gpx/>", "is not KML"),
        (b"<kml>", "not whole XML"),
        (b'<?xml version="1.0" encoding="nonsense"?><kml/>', "not whole XML"),
        (b"<kml>" + b"<Folder>" * 300 + b"</Folder>" * 300 + b"</kml>", "nested more than 100"),
    ],
)
def test_xml_that_is_not_plain_is_refused(body, found):
    with pytest.raises(RefusedError, match=found):
        plain_xml(body, "kml")


def test_geojson_bears_odd_geometries_and_properties():
    frame = geojson_table(
        b'{"type": "FeatureCollection", "features": ['
        b'{"type": "Feature", "properties": {"geometry": "x", "list": [1], "n": 1'
        + b"0"
        * 400
        + b'}, "geometry": {"type": "Polygon", "coordinates": [[[0, 0]]]}},'
        b'{"type": "Feature", "properties": null, "geometry": {"type": "Point", '
        b'"coordinates": [1, 2, 3]}}]}'
    )
    assert frame.geometry.iloc[0] is None
    assert frame.geometry.iloc[1].x == 1
    assert frame["list"].iloc[0] == "[1]"
    assert frame["n"].iloc[0] == float("inf")


@pytest.mark.parametrize("body", [b"{", b"[]", b'{"type": "Topology"}', b"\xff", b"[" * 100_000])
def test_what_is_no_geojson_is_refused(body):
    with pytest.raises(RefusedError):
        geojson_table(body)


def test_a_file_that_grows_is_read_no_further_than_its_kind_may_be(tmp_path, monkeypatch):
    monkeypatch.setitem(LARGEST, FileKind.SETTINGS, 10)
    path = tmp_path / "x.toml"
    path.write_bytes(b"x" * 11)
    assert refusal(path, FileKind.SETTINGS) is not None
    monkeypatch.setattr("reachmap.base.safe_files.refusal", lambda *_: None)
    with pytest.raises(RefusedError, match="grows"):
        read_limited(path, FileKind.SETTINGS)


def test_nothing_beside_a_raster_is_opened(tmp_path):
    path = write_dem(tmp_path / "dem.tif")
    whole = (
        '<VRTDataset rasterXSize="4" rasterYSize="4">'
        '<VRTRasterBand dataType="Float32" band="1"/></VRTDataset>'
    )
    path.with_name("dem.tif.ovr").write_text(whole, encoding="utf-8")
    told = '<PAMDataset><Metadata><MDI key="BESIDE">yes</MDI></Metadata></PAMDataset>'
    path.with_name("dem.tif.aux.xml").write_text(told, encoding="utf-8")
    with rasterio.open(path) as careless:
        assert careless.overviews(1)
        assert careless.tags()["BESIDE"] == "yes"
    with open_raster(path) as source:
        assert source.overviews(1) == []
        assert "BESIDE" not in source.tags()


def test_remote_files_are_closed_to_both_libraries(tmp_path, monkeypatch):
    path = write_dem(tmp_path / "dem.tif")
    with open_raster(path):
        assert rasterio.env.getenv()["CPL_VSIL_CURL_ALLOWED_EXTENSIONS"] == ".none"
    seen = []
    monkeypatch.setattr(
        "pyogrio.list_layers",
        lambda _: (
            seen.append(pyogrio.get_gdal_config_option("CPL_VSIL_CURL_ALLOWED_EXTENSIONS")) or []
        ),
    )
    (tmp_path / "x.fgb").write_bytes(HEADS[".fgb"])
    with open_vector(tmp_path / "x.fgb"):
        assert seen == [".none"]
