"""The same drawing in every format, CRS and unit reads as the same river."""

from __future__ import annotations

import math
import zipfile
from dataclasses import fields
from pathlib import Path

import gpxpy.gpx
import pyogrio
import pytest
import shapely

from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS, Quantity
from reachmap.markup.model import Markup
from tests.markup.folders import CRS, TOML, layers, make, rows, us_toml, with_line
from tests.markup.phone_files import gpx_of, kml, kml_folder

PARTS = [
    *("rivers", "banks", "edges", "soundings", "speeds", "levels"),
    *("trees", "rocks", "hazards", "access", "runs"),
]


def assert_same(found: Markup, wanted: Markup, *, shift: float = 0.01) -> None:
    """Compare every feature; geometry may move by `shift` [m], numbers by a millionth."""
    for name in PARTS:
        ours, theirs = getattr(found, name), getattr(wanted, name)
        assert len(ours) == len(theirs), name
        for one, other in zip(ours, theirs, strict=True):
            for field in fields(one):
                a, b = getattr(one, field.name), getattr(other, field.name)
                if isinstance(a, float):
                    assert a == pytest.approx(b, rel=1e-6, nan_ok=True), (name, field.name)
                elif shapely.is_geometry(a):
                    assert a.geom_type == b.geom_type, (name, field.name)
                    assert a.hausdorff_distance(b) < shift, (name, field.name)
                else:
                    assert a == b, (name, field.name)


def bare(folder: Path) -> Path:
    """Return a folder with everything but a drawing."""
    make(folder)
    (folder / "markup.gpkg").unlink()
    return folder


@pytest.fixture(scope="module")
def wanted(tmp_path_factory) -> Markup:
    return read_markup(make(tmp_path_factory.mktemp("wanted")))


@pytest.mark.parametrize("crs", ["EPSG:4326", CRS, "EPSG:3857", "EPSG:2991"])
@pytest.mark.parametrize("ending", [".geojson", ".fgb", ".shp", ".gpkg"])
def test_layers_in_files_of_their_own_read_alike(ending, crs, wanted, tmp_path):
    folder = bare(tmp_path)
    for name, frame in layers().items():
        moved = frame.to_crs("EPSG:4326" if ending == ".geojson" else crs)
        if ending == ".shp":  # whose names of fields are cut at ten signs
            moved = moved.rename(columns=lambda column: column[:10])
        # without an index the features keep their order
        options = {"SPATIAL_INDEX": "NO"} if ending == ".fgb" else {}
        pyogrio.write_dataframe(moved, folder / f"{name}{ending}", **options)
    assert_same(read_markup(folder), wanted)


@pytest.mark.parametrize("whole", [False, True])
def test_gpx_with_fields_in_its_texts_reads_alike(whole, wanted, tmp_path):
    folder = bare(tmp_path)
    gpx = gpxpy.gpx.GPX()
    for name, frame in layers().items():
        if not whole:
            gpx = gpxpy.gpx.GPX()
        gpx_of(name, frame, gpx, typed=whole)
        target = folder / ("markup.gpx" if whole else f"{name}.gpx")
        target.write_text(gpx.to_xml(), encoding="utf-8")
    assert_same(read_markup(folder), wanted, shift=0.05)


@pytest.mark.parametrize("extended", [True, False])
@pytest.mark.parametrize("whole", [False, True])
def test_kml_reads_alike_with_extended_data_or_texts(whole, extended, wanted, tmp_path):
    folder = bare(tmp_path)
    parts = {name: kml_folder(name, frame, extended=extended) for name, frame in layers().items()}
    if whole:
        (folder / "markup.kml").write_text(kml("".join(parts.values())), encoding="utf-8")
    else:
        for name, part in parts.items():
            (folder / f"{name}.kml").write_text(kml(part), encoding="utf-8")
    assert_same(read_markup(folder), wanted)


def test_kmz_reads_alike(wanted, tmp_path):
    folder = bare(tmp_path)
    parts = [kml_folder(name, frame, extended=True) for name, frame in layers().items()]
    with zipfile.ZipFile(folder / "markup.kmz", "w") as packed:
        packed.writestr("doc.kml", kml("".join(parts)))
    assert_same(read_markup(folder), wanted)


def test_the_same_river_in_us_units_reads_alike(wanted, tmp_path):
    cubic = 0.3048**3
    made = rows()
    for name, each in made.items():
        for row in each:
            for field in LAYER_FIELDS[name].fields:
                if field.quantity in NUMBERS and row.get(field.name) is not None:
                    unit = cubic if field.quantity is Quantity.FLOW else 0.3048
                    row[field.name] = row[field.name] / unit
    found = read_markup(make(tmp_path, toml=us_toml(TOML), made=made))
    assert_same(found, wanted)
    assert found.plan.flows == pytest.approx(wanted.plan.flows)
    assert found.plan.kit == wanted.plan.kit
    assert found.plan.season == wanted.plan.season


def test_a_layer_of_its_own_takes_the_place_of_an_empty_one(wanted, tmp_path):
    make(tmp_path, made={**rows(), "trees": []})
    layers()["trees"].to_crs("EPSG:4326").to_file(tmp_path / "Trees.geojson")
    assert_same(read_markup(tmp_path), wanted)


def faults_of(folder: Path) -> str:
    with pytest.raises(MarkupError) as caught:
        read_markup(folder)
    return str(caught.value)


def test_a_layer_drawn_twice_is_a_fault_that_names_both_files(tmp_path):
    make(tmp_path)
    layers()["trees"].to_crs("EPSG:4326").to_file(tmp_path / "trees.geojson")
    text = faults_of(tmp_path)
    assert "trees: it is drawn in markup.gpkg and in trees.geojson. Keep one" in text


def test_a_shapefile_without_prj_is_a_fault_unless_the_crs_is_named(wanted, tmp_path):
    make(tmp_path, made={**rows(), "trees": []})
    pyogrio.write_dataframe(layers()["trees"], tmp_path / "trees.shp")
    (tmp_path / "trees.prj").unlink()
    text = faults_of(tmp_path)
    assert "trees.shp: it does not say its CRS. Export it again with its CRS, or name it" in text
    toml = with_line(TOML, 'units = "metric"', f'units = "metric"\ncrs = "{CRS}"')
    (tmp_path / "reach.toml").write_text(toml, encoding="utf-8")
    found = read_markup(tmp_path)
    assert_same(found, wanted)
    assert any(f"trees.shp does not say its CRS: {CRS} is taken" in text for text in found.assumed)


def test_metres_in_a_geojson_that_means_degrees_are_found(tmp_path):
    make(tmp_path, made={**rows(), "trees": []})
    text = layers()["trees"].set_crs(None, allow_override=True).to_json()
    (tmp_path / "trees.geojson").write_text(text, encoding="utf-8")
    assert "its coordinates are not degrees" in faults_of(tmp_path)


def test_a_projected_crs_named_in_feet_is_not_worked_in(tmp_path):
    toml = with_line(TOML, 'units = "metric"', 'units = "metric"\ncrs = "EPSG:2992"')
    found = read_markup(make(tmp_path, toml=toml))
    assert found.crs == CRS
    assert any("does not count in metres" in sentence for sentence in found.assumed)


def test_the_utm_zone_is_that_of_the_river(tmp_path):
    make(tmp_path)
    assert read_markup(tmp_path).crs == CRS


def test_columns_that_look_like_a_slip_are_a_fault(tmp_path):
    make(tmp_path, made={**rows(), "soundings": []})
    frame = layers()["soundings"].rename(columns={"depth": "dpeth"})
    frame.to_crs("EPSG:4326").to_file(tmp_path / "soundings.geojson")
    text = faults_of(tmp_path)
    assert "soundings.geojson: soundings has a column 'dpeth'. Did you mean 'depth'?" in text


def test_columns_of_the_anglers_own_are_left_alone(wanted, tmp_path):
    make(tmp_path, made={**rows(), "soundings": []})
    frame = layers()["soundings"].assign(weather="rain", photo=1)
    frame.to_crs("EPSG:4326").to_file(tmp_path / "soundings.geojson")
    assert_same(read_markup(tmp_path), wanted)


def test_capitals_and_spaces_in_columns_and_words_do_not_matter(wanted, tmp_path):
    make(tmp_path, made={**rows(), "banks": []})
    frame = layers()["banks"].rename(columns={"cover_height": "Cover Height", "side": "SIDE"})
    frame["SIDE"] = frame["SIDE"].str.upper()
    frame.to_crs("EPSG:4326").to_file(tmp_path / "banks.geojson")
    assert_same(read_markup(tmp_path), wanted)


def test_a_misspelt_layer_is_a_fault_where_the_right_one_is_missing(tmp_path):
    folder = bare(tmp_path)
    for name, frame in layers().items():
        layer = "sounding" if name == "soundings" else name
        pyogrio.write_dataframe(frame, folder / "markup.gpkg", layer=layer, driver="GPKG")
    text = faults_of(folder)
    assert (
        "markup.gpkg: its layer 'sounding' is none of reachmap's. Did you mean 'soundings'?" in text
    )


def test_a_file_that_is_no_map_is_a_fault_without_a_trace(tmp_path):
    make(tmp_path)
    (tmp_path / "trees.geojson").write_text("not json at all", encoding="utf-8")
    (tmp_path / "rocks.kmz").write_bytes(b"PK\x03\x04 not a zip")
    (tmp_path / "runs.shp").write_bytes(b"\x00" * 50)
    text = faults_of(tmp_path)
    for name in ("trees.geojson", "rocks.kmz", "runs.shp"):
        assert f"{name}: it cannot be read" in text


def test_parts_of_a_feature_become_features(tmp_path):
    made = rows()
    two = [made["runs"][0].pop("geometry"), made["runs"].pop(1)["geometry"]]
    made["runs"][0]["geometry"] = shapely.MultiPolygon(two)
    made["runs"][0]["name"] = "Both bars"
    text = faults_of(make(tmp_path, made=made))
    # one name, two places: each run wants a name of its own
    assert "part 2" in text
    assert "'Both bars'" in text


def test_lines_that_meet_end_to_end_in_one_feature_are_one(wanted, tmp_path):
    made = rows()
    whole = made["river"][0]["geometry"]
    first = shapely.LineString(whole.coords[:11])
    second = shapely.LineString(whole.coords[10:])
    made["river"][0]["geometry"] = shapely.MultiLineString([first, second])
    assert_same(read_markup(make(tmp_path, made=made)), wanted)


def test_heights_of_3d_drawings_are_dropped(wanted, tmp_path):
    make(tmp_path, made={**rows(), "river": []})
    frame = layers()["river"]
    frame.geometry = shapely.force_3d(frame.geometry, 77.0)
    frame.to_crs("EPSG:4326").to_file(tmp_path / "river.geojson")
    found = read_markup(tmp_path)
    assert not found.main.line.has_z
    assert_same(found, wanted)


def test_what_is_not_given_is_nan(wanted):
    assert math.isnan(wanted.soundings[1].depth_m)
    assert math.isnan(wanted.banks[3].cover_height_m)


def test_what_a_phone_file_holds_besides_is_told(tmp_path):
    make(tmp_path)
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints.append(gpxpy.gpx.GPXWaypoint(46.2, -141.0, name="Home"))
    (tmp_path / "markup.gpx").write_text(gpx.to_xml(), encoding="utf-8")
    assert any(
        "1 waypoints without a <type> not read" in text for text in read_markup(tmp_path).assumed
    )


def test_a_misspelt_field_in_a_text_is_a_fault(tmp_path):
    make(tmp_path, made={**rows(), "soundings": []})
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints.append(
        gpxpy.gpx.GPXWaypoint(
            46.2, -141.0, name="S1", description="dept=1.2; flow=30; bottom: cobble"
        )
    )
    (tmp_path / "soundings.gpx").write_text(gpx.to_xml(), encoding="utf-8")
    text = faults_of(tmp_path)
    assert "its text has the unknown field 'dept (for depth?)'" in text
    assert "bottom" not in text
