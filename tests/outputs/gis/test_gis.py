"""GeoPackage and GeoTIFF read back by general-purpose readers."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from lxml import etree
from rio_cogeo.cogeo import cog_validate

from reachmap.base.schema import LAYERS, as_promised
from reachmap.base.words import UnitSystem, Wet
from reachmap.outputs.gis import write_gis
from reachmap.outputs.gis.drawn import DRAWN
from reachmap.outputs.gis.raster_styles import steps_of
from reachmap.outputs.gis.styles import DRAWN_LOOKS, LOOKS, look_of, qml_style, sld_style
from reachmap.text.cautions import CAUTIONS
from reachmap.text.gis import datum_words
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product

SLD = "{http://www.opengis.net/sld}"
NASTY = "'); DROP TABLE runs; --</a><script>{{7*7}}\u202e" + "x" * 10_000


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gis")
    product = made_product()
    return product, folder, write_gis(product, folder)


@pytest.fixture(scope="module")
def doubted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gis-doubt")
    product = with_doubt(made_product())
    return product, folder, write_gis(product, folder)


def test_every_promised_layer_is_there_with_its_columns_and_crs(written):
    product, folder, _ = written
    for layer in LAYERS:
        frame = gpd.read_file(folder / "results.gpkg", layer=layer.name)
        assert [c for c in frame.columns if c != "geometry"] == [
            c.name for c in (*layer.columns, *layer.written)
        ]
        assert frame.crs == product.markup.crs
        assert len(frame) == len(product.layers[layer.name])


def test_the_package_is_a_geopackage_that_tells_its_units(written):
    _, folder, _ = written
    with closing(sqlite3.connect(folder / "results.gpkg")) as database:
        # application_id of OGC 12-128 (GeoPackage), requirement 2
        assert database.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
        title = database.execute(
            "SELECT title FROM gpkg_data_columns WHERE table_name='water' AND column_name='depth_m'"
        ).fetchone()[0]
        assert title == "depth_m [m]"
        styled = {row[0] for row in database.execute("SELECT f_table_name FROM layer_styles")}
        assert styled == {layer.name for layer in (*LAYERS, *DRAWN)}
        assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_every_column_of_words_names_the_words_it_may_hold(written):
    _, folder, _ = written
    with closing(sqlite3.connect(folder / "results.gpkg")) as database:
        lists: dict[str, set[str]] = {}
        for name, value in database.execute(
            "SELECT constraint_name, value FROM gpkg_data_column_constraints "
            "WHERE constraint_type = 'enum'"
        ):
            lists.setdefault(name, set()).add(value)
        rows = database.execute(
            "SELECT table_name, column_name, constraint_name FROM gpkg_data_columns"
        )
        named = {(table, column): words for table, column, words in rows}
    for layer in (*LAYERS, *DRAWN):
        for column in layer.columns:
            words = named[layer.name, column.name]
            assert (column.words is not None) == (words is not None)
            if column.words is not None:
                assert lists[words] == {word.value for word in column.words}


def test_no_column_speaks_of_nan_where_the_file_has_nothing(written):
    _, folder, paths = written
    with closing(sqlite3.connect(folder / "results.gpkg")) as database:
        told = [row[0] for row in database.execute("SELECT description FROM gpkg_data_columns")]
    for path in paths:
        if path.suffix == ".tif":
            with rasterio.open(path) as raster:
                told += [*raster.descriptions, *raster.tags().values()]
    assert not [text for text in told if "NaN" in text]


def test_the_cautions_are_metadata_of_the_package_and_of_every_layer(written):
    product, folder, _ = written
    with closing(sqlite3.connect(folder / "results.gpkg")) as database:
        rows = database.execute(
            "SELECT reference_scope, table_name, metadata FROM gpkg_metadata_reference "
            "JOIN gpkg_metadata ON id = md_file_id"
        ).fetchall()
        extensions = {row[0] for row in database.execute(
            "SELECT extension_name FROM gpkg_extensions")}  # fmt: skip
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
    assert {"gpkg_metadata", "gpkg_schema"} <= extensions
    assert ("geopackage", None) in {row[:2] for row in rows}
    assert {row[1] for row in rows if row[0] == "table"} == {
        layer.name for layer in (*LAYERS, *DRAWN)
    }
    for *_, text in rows:
        assert all(caution in text for caution in CAUTIONS)
        assert "Graded for" in text
    assert product.report["invented"]
    assert "invented" in rows[0][2]


def test_the_hazards_and_ways_in_that_were_drawn_are_there(written):
    product, folder, _ = written
    spots = gpd.read_file(folder / "results.gpkg", layer="hazards_drawn")
    assert [(a, b) for a, b in zip(spots["kind"], spots["note"], strict=True)] == [
        (str(one.kind), one.note) for one in product.markup.hazards
    ]
    lines = gpd.read_file(folder / "results.gpkg", layer="hazard_outlines")
    for number, line in zip(lines["number"], lines.geometry, strict=True):
        shape = product.markup.hazards[number - 1].shape
        flat = shape.boundary if shape.geom_type == "Polygon" else shape
        assert line.equals(flat)
    assert len(lines) == sum(one.shape.geom_type != "Point" for one in product.markup.hazards)
    ways = gpd.read_file(folder / "results.gpkg", layer="access_drawn")
    assert list(ways["kind"]) == [str(one.kind) for one in product.markup.access]


def test_rasters_tell_their_statistics_datum_and_cautions(written):
    product, folder, _ = written
    label = product.labels[0]
    level = product.flows["level"].to_numpy()[0]
    with rasterio.open(folder / f"level_{label}.tif") as raster:
        tags = raster.tags(1)
        assert float(tags["STATISTICS_MINIMUM"]) == pytest.approx(np.nanmin(level), abs=1e-4)
        assert float(tags["STATISTICS_MAXIMUM"]) == pytest.approx(np.nanmax(level), abs=1e-4)
        assert float(tags["STATISTICS_MEAN"]) == pytest.approx(np.nanmean(level), abs=1e-4)
        assert float(tags["STATISTICS_STDDEV"]) == pytest.approx(np.nanstd(level), abs=1e-4)
        assert raster.tags()["VERTICAL_DATUM"]
        assert all(caution in raster.tags()["CAUTION"] for caution in CAUTIONS)
    with rasterio.open(folder / f"depth_{label}.tif") as raster:
        assert "VERTICAL_DATUM" not in raster.tags()  # a depth hangs on no datum


@pytest.mark.parametrize(
    ("vertical", "datum", "said"),
    [
        ("dem", "NAVD88", "NAVD88"),
        ("dem", "", "nobody named it"),
        ("noted", "NAVD88", "nobody named it"),
        ("local", "NAVD88", "arbitrary zero"),
    ],
)
def test_the_datum_of_heights_is_told_as_it_is_known(vertical, datum, said):
    assert said in datum_words(vertical, datum)


def test_wet_has_its_colours_and_the_names_of_its_codes(written):
    product, folder, _ = written
    path = folder / f"wet_{product.labels[0]}.tif"
    with rasterio.open(path) as raster:
        colours = raster.colormap(1)
        assert raster.colorinterp == (rasterio.enums.ColorInterp.palette,)
    assert len({colours[code.value][:3] for code in Wet}) == 3
    names = etree.parse(str(path) + ".aux.xml").findall(".//Category")
    assert [name.text for name in names] == ["Dry", "Water", "Not known: treat as deep and fast"]


def test_every_raster_has_its_colours_beside_it_none_of_them_grey(doubted):
    product, _, paths = doubted
    for path in (path for path in paths if path.suffix == ".tif"):
        root = etree.parse(str(path.with_suffix(".qml"))).getroot()
        kind = root.find("pipe/rasterrenderer").get("type")
        if path.stem.rsplit("_", 1)[0] == "wet":
            assert kind == "paletted"
            continue
        assert kind == "singlebandpseudocolor"
        items = root.findall(".//colorrampshader/item")
        upto = [float(item.get("value")) for item in items]
        assert upto == sorted(upto)
        assert upto[-1] == float("inf")  # the deepest water has a colour too
        assert len({item.get("color") for item in items}) == len(items) >= 5
        assert all(item.get("label") for item in items)
    assert product.markup.plan.units == "us"


def test_steps_are_named_in_the_reader_s_units():
    """0.3048 m to the foot exactly (international foot, 1959)."""
    us = steps_of("depth", np.array([1.0]), UnitSystem.US)
    assert [step.words for step in us][:2] == ["0 to 1 ft", "1 to 2 ft"]
    assert us[0].upto == pytest.approx(0.3048)
    metric = steps_of("speed", np.array([1.0]), UnitSystem.METRIC)
    assert [step.words for step in metric][:2] == ["0 to 0.3 m/s", "0.3 to 0.6 m/s"]
    assert metric[-1].words == "over 1.8 m/s"


def test_rasters_carry_the_field_where_it_was(written):
    product, folder, _ = written
    flow = product.flows.isel(flow=0)
    label = product.labels[0]
    with rasterio.open(folder / f"depth_{label}.tif") as raster:
        assert raster.crs == rasterio.crs.CRS.from_user_input(flow.attrs["crs"])
        assert raster.units == ("m",)
        values = raster.read(1, masked=True)
        depth = flow["depth"].to_numpy()
        np.testing.assert_allclose(values.filled(np.nan), depth, rtol=1e-6)
        row, col = np.argwhere(np.isfinite(depth))[7]
        x, y = raster.xy(row, col)
        assert (x, y) == (float(flow["x"][col]), float(flow["y"][row]))


def test_where_nothing_is_known_the_raster_says_nodata(written):
    product, folder, _ = written
    with rasterio.open(folder / f"speed_{product.labels[0]}.tif") as raster:
        mask = raster.read_masks(1) == 0
    assert np.array_equal(mask, np.isnan(product.flows["depth"].isel(flow=0).to_numpy()))


def test_every_raster_is_a_valid_cloud_optimised_geotiff_with_its_unit(doubted):
    """rio-cogeo 7.0.4 (PyPI) is the outside judge."""
    _, _, paths = doubted
    rasters = [path for path in paths if path.suffix == ".tif"]
    units = {"depth": "m", "speed": "m/s", "level": "m", "wet": "1", "agreement": "1"}
    units |= {"depth_spread": "m", "speed_spread": "m/s", "suits_chance": "1", "wet_chance": "1"}
    assert {path.stem.rsplit("_", 1)[0] for path in rasters} == set(units)
    for path in rasters:
        valid, errors, _ = cog_validate(str(path))
        assert valid, errors
        with rasterio.open(path) as raster:
            assert raster.units == (units[path.stem.rsplit("_", 1)[0]],)
            assert raster.descriptions[0].endswith(f"At {path.stem.rsplit('_', 1)[1]}.")
            assert raster.crs.to_epsg() == 32607


def test_odds_are_written_as_they_are_with_unknown_ground_as_nodata_and_never_as_none(doubted):
    product, folder, _ = doubted
    for name in ("wet_chance", "suits_chance"):
        odds = product.doubt[name].to_numpy()[2]
        with rasterio.open(folder / f"{name}_{product.labels[2]}.tif") as raster:
            assert raster.read(1, masked=True).filled(np.nan) == pytest.approx(odds, nan_ok=True)
            assert "where not known" in raster.descriptions[0]
            assert "dry or" not in raster.descriptions[0]
            assert "dry or" not in raster.tags()["NO_VALUE"]
    unknown = product.flows["wet"].to_numpy()[2] == Wet.UNKNOWN
    with rasterio.open(folder / f"wet_chance_{product.labels[2]}.tif") as raster:
        assert unknown.any()
        assert (raster.read_masks(1)[unknown] == 0).all()
    with rasterio.open(folder / f"depth_{product.labels[2]}.tif") as raster:
        assert "dry or not known" in raster.descriptions[0]


def test_a_raster_tells_dry_from_unknown(doubted):
    product, folder, _ = doubted
    with rasterio.open(folder / f"wet_{product.labels[2]}.tif") as raster:
        assert np.array_equal(raster.read(1), product.flows["wet"].to_numpy()[2])
        assert raster.nodata is None
        assert "0 no, 1 yes, 2 unknown" in raster.descriptions[0]


def test_every_layer_has_a_style_with_a_rule_a_kind():
    assert set(LOOKS) == {layer.name for layer in LAYERS}
    assert set(DRAWN_LOOKS) == {layer.name for layer in DRAWN}
    for layer in (*LAYERS, *DRAWN):
        look = look_of(layer.name)
        root = etree.fromstring(sld_style(layer.name).encode())
        assert root.tag == f"{SLD}StyledLayerDescriptor"
        rules = root.findall(f".//{SLD}Rule")
        assert len(rules) == len(look.kinds)
        if look.column:
            told = [e.text for e in root.iter("{http://www.opengis.net/ogc}Literal")]
            assert told == list(look.kinds)
        symbol = {"Polygon": "Polygon", "LineString": "Line", "Point": "Point"}[layer.geometry]
        assert all(rule.find(f"{SLD}{symbol}Symbolizer") is not None for rule in rules)


def test_the_other_style_has_a_category_a_kind_and_a_symbol_for_each():
    for layer in LAYERS:
        look = look_of(layer.name)
        root = etree.fromstring(qml_style(layer.name).encode())
        renderer = root.find("renderer-v2")
        symbols = {symbol.get("name") for symbol in renderer.findall("symbols/symbol")}
        assert len(symbols) == len(look.kinds)
        if look.column:
            assert renderer.get("attr") == look.column
            assert [c.get("value") for c in renderer.find("categories")] == list(look.kinds)
            assert {c.get("symbol") for c in renderer.find("categories")} == symbols


def test_every_value_of_a_styled_column_has_its_style(doubted):
    product, _, _ = doubted
    for layer in LAYERS:
        look = look_of(layer.name)
        if look.column:
            assert set(product.layers[layer.name][look.column]) <= set(look.kinds)


def test_hostile_text_is_read_back_as_it_was_typed(tmp_path):
    product = with_doubt(made_product(text=NASTY), text=NASTY)
    met = {"hazard_kind": "other", "hazard_note": NASTY, "hazard_distance_m": 9.0}
    met |= {"hazard_way": "current", "hazard_toward": "down"}
    stands = as_promised("stations", product.layers["stations"].assign(**met))
    write_gis(replace(product, layers={**product.layers, "stations": stands}), tmp_path)
    runs = gpd.read_file(tmp_path / "results.gpkg", layer="runs")
    assert list(runs["run"]) == [f"{NASTY}{i}" for i in range(len(runs))]
    stations = gpd.read_file(tmp_path / "results.gpkg", layer="stations")
    assert set(stations["hazard_note"]) == {NASTY}
    assert all(NASTY in note for note in stations["note"])
    with closing(sqlite3.connect(tmp_path / "results.gpkg")) as database:
        assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
