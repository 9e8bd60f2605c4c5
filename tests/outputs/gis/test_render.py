"""The project opened and painted by QGIS itself, offscreen; skipped where no PyQGIS is installed.

On Debian: `apt-get install --no-install-recommends python3-qgis` (about 100 MB to fetch and 1 GB on
the disk). REACHMAP_QGIS_PYTHON names another Python that has it.
"""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from reachmap.base.words import HazardKind, WadeGrade
from reachmap.markup import read_markup
from reachmap.markup.starter import write_new
from reachmap.markup.write import write_layers
from reachmap.outputs.gis import write_gis
from tests.markup.folders import layers as drawn_layers
from tests.markup.folders import make
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product

PYTHON = os.environ.get("REACHMAP_QGIS_PYTHON", "/usr/bin/python3")
SCRIPT = Path(__file__).parent / "render_project.py"
WORDS = """
import json, sys
from osgeo import gdal
package = gdal.OpenEx(sys.argv[1])
names = package.GetFieldDomainNames()
print(json.dumps({name: list(package.GetFieldDomain(name).GetEnumeration()) for name in names}))
"""
THEMES = ("A 1,200 cfs", "D 6,500 cfs")


def run(*words, check=True):
    bare = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    return subprocess.run(
        [PYTHON, *map(str, words)], capture_output=True, text=True, env=bare, check=check
    )


@pytest.fixture(scope="module")
def painted(tmp_path_factory):
    if not Path(PYTHON).exists() or run("-c", "import qgis.core", check=False).returncode:
        pytest.skip("no PyQGIS: the project was looked at by its structure alone, not painted")
    folder = tmp_path_factory.mktemp("painted")
    write_gis(with_doubt(made_product()), folder)
    write_new(folder / "new")
    done = run(SCRIPT, folder / "reach.qgz", folder, *THEMES)
    return folder, json.loads(done.stdout[done.stdout.index('{"opened"') :])


@pytest.mark.slow
def test_every_layer_opens_in_its_place_with_its_look(painted):
    _, found = painted
    assert found["opened"]
    assert found["invalid"] == []
    assert found["crs"] == [found["project_crs"]] == ["EPSG:32607"]
    assert found["themes"][0] == THEMES[0]
    assert len(found["themes"]) == len(found["layouts"]) == 4
    assert all(count > 0 for count in found["features"].values())
    kinds = set(found["renderers"].values())
    assert kinds == {"singleSymbol", "categorizedSymbol", "singlebandpseudocolor", "paletted"}
    wet = next(words for name, words in found["legend"].items() if name.startswith("wet_"))
    assert "Not known: treat as deep and fast" in wet


@pytest.mark.slow
def test_a_raster_or_layer_opened_alone_puts_its_colours_on(painted):
    _, found = painted
    assert found["alone"] == {
        "depth": "singlebandpseudocolor",
        "wet": "paletted",
        "water": "categorizedSymbol",
    }


@pytest.mark.slow
@pytest.mark.usefixtures("painted")  # which skips where there is no PyQGIS
def test_a_drawing_opens_with_its_looks_and_dropdowns_and_what_is_drawn_there_is_read(
    tmp_path,
):
    make(tmp_path / "river")
    path = tmp_path / "river" / "markup.gpkg"
    write_layers(path, drawn_layers())
    before = len(read_markup(tmp_path / "river").access)
    done = run(SCRIPT.with_name("open_drawing.py"), path)
    found = json.loads(done.stdout[done.stdout.index('{"banks"') :])
    assert all(one["valid"] for name, one in found.items() if name != "kept")
    assert found["banks"]["look"] == "categorizedSymbol"
    assert found["banks"]["widgets"]["cover"] == found["banks"]["widgets"]["side"] == "ValueMap"
    assert found["hazards"]["widgets"]["kind"] == "ValueMap"
    assert found["hazards"]["usual"]["kind"] == "'other'"
    assert found["runs"]["labels"]
    assert found["kept"]
    access = read_markup(tmp_path / "river").access
    assert len(access) == before + 1
    assert access[-1].note == "drawn in the GIS"
    assert "may only be partially supported" not in done.stderr  # as newer versions of the format


@pytest.mark.slow
def test_gdal_finds_the_words_that_a_column_may_hold(painted):
    folder, _ = painted
    words = json.loads(run("-W", "ignore", "-c", WORDS, folder / "results.gpkg").stdout)
    assert set(words["words_hazardkind"]) == {word.value for word in HazardKind}
    assert set(words["words_wadegrade"]) == {word.value for word in WadeGrade}


@pytest.mark.slow
def test_a_theme_shows_its_flow_and_what_lasts_and_paints_more_than_grey(painted):
    folder, found = painted
    for theme in THEMES:
        names, errors = found["painted"][theme]
        assert errors == []
        assert names.count("Depth") == 1
        assert {"Hazards you drew", "Wading, for you", "Wet, dry, not known"} <= set(names)
        picture = np.asarray(Image.open(folder / f"{''.join(filter(str.isalnum, theme))}.png"))
        spread = np.ptp(picture[..., :3].astype(int), axis=2)
        assert (spread > 40).mean() > 0.03  # coloured, not grey
    assert found["pages"] == 4
    assert (folder / "page.png").stat().st_size > 10_000
