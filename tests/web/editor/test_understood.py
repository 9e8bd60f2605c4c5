"""What a dropped thing is understood to be, from names, columns and shape."""

import io
import json
import zipfile

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point, Polygon

from reachmap.web.editor.imports import FileImportError, found_in
from tests.web.editor.folders import HOME

LON, LAT = HOME
SHAPES = {
    "Point": Point(LON, LAT),
    "Line": LineString([(LON, LAT), (LON + 0.001, LAT)]),
    "Polygon": Polygon([(LON, LAT), (LON + 0.001, LAT), (LON, LAT + 0.001)]),
}


def understood(shape, file="mine.geojson", **properties):
    geometry = SHAPES[shape].__geo_interface__
    body = {"type": "Feature", "properties": properties, "geometry": geometry}
    (found,) = found_in(file, json.dumps(body).encode())
    return found.understood


@pytest.mark.parametrize(
    ("shape", "name", "layer", "values"),
    [
        ("Polygon", "river left - willows", "banks", {"side": "left", "cover": "brush"}),
        ("Polygon", "RR cobble bar", "banks", {"side": "right", "cover": "gravel"}),
        ("Polygon", "R.L. cut-bank", "banks", {"side": "left", "cover": "cutbank"}),
        ("Polygon", "grass and spruce, right bank", "banks", {"side": "right", "cover": "trees"}),
        ("Polygon", "left bank grass, no trees", "banks", {"side": "left", "cover": "grass"}),
        ("Polygon", "left bank looking upstream, sand", "banks", {"side": "", "cover": "sand"}),
        ("Polygon", "island, 8 ft willows", "banks", {"side": "island", "cover_height": "8 ft"}),
        ("Polygon", "Alder run RL", "banks", {"side": "left"}),
        ("Polygon", "The Long Run", "runs", {"name": "The Long Run"}),
        ("Point", "Parking", "access", {"kind": "parking", "note": "Parking"}),
        ("Point", "boat ramp", "access", {"kind": "landing"}),
        ("Point", "strainer", "hazards", {"kind": "strainer", "note": "strainer"}),
        ("Point", "downed tree RL", "hazards", {"kind": "strainer"}),
        ("Point", "Spring", "hazards", {"kind": "cold inflow"}),
        ("Point", "bucket at 1,200 cfs", "structure", {"kind": "bucket", "flow": "1200 cfs"}),
        ("Point", "4.2 ft deep, 900 cfs", "soundings", {"depth": "4.2 ft", "flow": "900 cfs"}),
        ("Point", "spruce 60 ft", "trees", {"height": "60 ft"}),
        ("Point", "lunch spot", "", {}),
        ("Line", "Main channel", "river", {"part": "main"}),
        ("Line", "side channel", "river", {"part": "side"}),
        ("Line", "water's edge at 2400 cfs", "edges", {"flow": "2400 cfs"}),
        ("Line", "log jam", "hazards", {"kind": "strainer"}),
        ("Line", "walked", "", {}),
    ],
)
def test_words_people_write(shape, name, layer, values):
    made = understood(shape, name=name)
    assert made.layer == layer
    assert {field: made.values.get(field, "") for field in values} == values


@pytest.mark.parametrize(
    ("columns", "values"),
    [
        ({"SIDE": "L", "VEG": "Willow"}, {"side": "left", "cover": "brush"}),
        ({"side": "R", "cover": "gravel"}, {"side": "right", "cover": "gravel"}),
        ({"BANK": "River Right", "COVER_HEIG": 12}, {"side": "right", "cover_height": "12"}),
        ({"SIDE": "L", "bank_ht_ft": 6.5}, {"side": "left", "rise": "6.5 ft"}),
        ({"Side": "left", "cover": "zzz"}, {"side": "left", "cover": ""}),
    ],
)
def test_columns_of_other_programs(columns, values):
    made = understood("Polygon", **columns)
    assert made.layer == "banks"
    assert {field: made.values.get(field, "") for field in values} == values


def test_each_inferred_field_says_from_which_words():
    made = understood("Polygon", name="river left - willows")
    assert [(one.field, one.words, one.column) for one in made.reasons] == [
        ("", "river left", "name"),
        ("side", "river left", "name"),
        ("cover", "willows", "name"),
    ]
    unknown = understood("Polygon", SIDE="L", cover="zzz")
    assert ("cover", "zzz", "cover") in [(o.field, o.words, o.column) for o in unknown.reasons]


def test_units_stand_in_a_columns_name():
    made = understood("Point", depth_m=1.25, Q_cfs=900)
    assert (made.layer, made.values["depth"], made.values["flow"]) == (
        "soundings",
        "1.25 m",
        "900 cfs",
    )
    assert understood("Point", depth=1.25).values["depth"] == "1.25"


def test_the_rivers_own_name_says_nothing_of_what_grows_there():
    assert understood("Polygon", "Willow Creek.geojson", name="1").layer == ""
    assert understood("Polygon", "willows river left.geojson", name="1").values["cover"] == "brush"


def zipped(tmp_path, crs="EPSG:32607", **columns):
    frame = gpd.GeoDataFrame(columns, geometry=[SHAPES["Polygon"]], crs="EPSG:4326")
    frame = frame.to_crs("EPSG:32607")
    if crs is None:
        frame = frame.set_crs(None, allow_override=True)
    frame.to_file(tmp_path / "bank pieces.shp")
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for part in tmp_path.glob("bank pieces.*"):
            archive.write(part, f"../export/{part.name}")
    return stream.getvalue()


def test_a_zipped_shapefile_is_read_and_understood(tmp_path):
    (found,) = found_in("export.zip", zipped(tmp_path, SIDE=["L"], COVER=["Willows"]))
    assert found.understood.layer == "banks"
    assert found.understood.values["side"] == "left"
    assert found.understood.values["cover"] == "brush"
    assert found.paths[0][0] == pytest.approx((LON, LAT), abs=2e-3)


@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_a_shapefile_without_its_place_on_earth_is_refused_in_words(tmp_path):
    with pytest.raises(FileImportError, match=r"pack its \.prj"):
        found_in("export.zip", zipped(tmp_path, crs=None, SIDE=["L"]))


@pytest.mark.parametrize("body", [b"", b"PK\3\4 torn", b"PK\5\6" + b"\0" * 18])
def test_what_is_no_zip_of_shapefiles_is_refused(body):
    with pytest.raises(FileImportError, match=r"shapefile|ZIP"):
        found_in("export.zip", body)
