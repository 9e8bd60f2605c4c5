"""The project for desktop GIS: by its structure here, opened and painted in test_render.py."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from lxml import etree

from reachmap.outputs.gis import write_gis
from reachmap.outputs.gis.project import PROJECT_FILE, write_project
from reachmap.text.cautions import CAUTIONS
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product
from tests.outputs.test_gpx import NASTY


def project_of(path):
    with zipfile.ZipFile(path) as packed:
        assert packed.namelist() == [PROJECT_FILE]
        return etree.fromstring(packed.read(PROJECT_FILE))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("project")
    product = with_doubt(made_product())
    write_gis(product, folder)
    return product, folder, project_of(folder / "reach.qgz")


def test_every_layer_lies_beside_the_project(written):
    _, folder, root = written
    sources = [one.text for one in root.findall("projectlayers/maplayer/datasource")]
    assert len(sources) > 60
    for source in sources:
        name = source.split("|")[0]
        assert name.startswith("./")  # relative, so that the folder can be moved
        assert (folder / name).is_file()
    assert root.findtext("properties/Paths/Absolute") == "false"


def test_each_flow_has_a_group_and_a_theme_and_one_at_a_time_is_shown(written):
    product, _, root = written
    flows = ["1,200 cfs", "2,400 cfs", "4,000 cfs", "6,500 cfs"]
    (group,) = [one for one in root.iter("layer-tree-group") if one.get("mutually-exclusive")]
    assert [one.get("name") for one in group] == flows
    checked = [one.get("name") for one in group if one.get("checked") == "Qt::Checked"]
    assert checked == [flows[int(group.get("mutually-exclusive-child"))]]
    themes = {one.get("name"): one for one in root.findall("visibility-presets/*")}
    assert list(themes) == [f"{letter} {flow}" for letter, flow in zip("ABCD", flows, strict=True)]
    for label, theme in zip(product.labels, themes.values(), strict=True):
        ids = [one.get("id") for one in theme.findall("layer")]
        of_flow = [one for one in ids if not one.endswith("at_every_flow")]
        assert of_flow
        assert all(one.endswith(f"_{label}") for one in of_flow)
        # what can hurt, and what nobody knows, is on in every theme
        for name in ("hazards_drawn_at_every_flow", f"wading_{label}", f"wet_{label}"):
            assert name in ids


def test_a_layer_of_a_flow_holds_that_flow_alone(written):
    _, _, root = written
    for layer in root.findall("projectlayers/maplayer[@type='vector']"):
        label = layer.findtext("id").rsplit("_", 1)[1]
        source = layer.findtext("datasource")
        assert ("subset" in source) == (label != "flow")
        if "subset" in source:
            assert source.endswith(f"|subset=\"flow_label\" = '{label}'")


def test_identities_are_unique_and_in_the_tree_and_none_is_too_short(written):
    _, _, root = written
    ids = [one.text for one in root.findall("projectlayers/maplayer/id")]
    assert len(ids) == len(set(ids))
    assert min(map(len, ids)) > 6
    assert [one.get("id") for one in root.iter("layer-tree-layer")] == ids
    assert [one.get("id") for one in root.findall("layerorder/layer")] == ids


def test_what_is_not_known_lies_below_the_depth_and_is_opaque(written):
    product, _, root = written
    ids = [one.get("id") for one in root.findall("layerorder/layer")]
    for label in product.labels:
        assert (
            ids.index(f"wading_{label}") < ids.index(f"depth_{label}") < ids.index(f"wet_{label}")
        )
        (wet,) = [
            one
            for one in root.findall("projectlayers/maplayer")
            if one.findtext("id") == f"wet_{label}"
        ]
        assert float(wet.find("pipe/rasterrenderer").get("opacity")) >= 0.5
        alphas = {one.get("value"): one.get("alpha") for one in wet.iter("paletteEntry")}
        assert alphas == {"0": "0", "1": "255", "2": "255"}


def test_stay_out_is_hatched_in_lines_that_leave_the_depth_to_be_seen(written):
    _, _, root = written
    seen = 0
    for layer in root.findall("projectlayers/maplayer"):
        if not layer.findtext("id").startswith("wading_"):
            continue
        category = layer.find(".//category[@value='no']")
        symbol = layer.find(f"renderer-v2/symbols/symbol[@name='{category.get('symbol')}']")
        kinds = [one.get("class") for one in symbol.findall("layer")]
        assert "SimpleFill" not in kinds
        hatches = [one for one in symbol.findall("layer") if one.get("class") == "LinePatternFill"]
        inks = {one.find("symbol/layer/prop[@k='line_color']").get("v") for one in hatches}
        assert len(inks) == 2  # dark and pale, for pale and dark water
        seen += 1
    assert seen == 4


def test_cautions_are_in_the_project_and_on_every_layer_and_page(written):
    _, _, root = written
    texts = [root.findtext("projectMetadata/abstract")]
    texts += [one.text for one in root.findall("projectlayers/maplayer/resourceMetadata/abstract")]
    assert all(caution in text for text in texts for caution in CAUTIONS)
    layouts = root.findall("Layouts/Layout")
    assert layouts[0].get("name") == "Runs at A 1,200 cfs"
    for layout in layouts:
        said = " ".join(one.get("labelText") or "" for one in layout.findall("LayoutItem"))
        assert "People drown wading" in said
        assert layout.find("Atlas").get("coverageLayer") == "runs_at_every_flow"


def test_the_same_reach_gives_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        write_project(tmp_path / name, made_product())
    assert Path(tmp_path / "a").read_bytes() == Path(tmp_path / "b").read_bytes()


def test_hostile_text_stays_text(tmp_path):
    write_project(tmp_path / "reach.qgz", with_doubt(made_product(text=NASTY), text=NASTY))
    root = project_of(tmp_path / "reach.qgz")
    assert "script" not in {etree.QName(one).localname for one in root.iter()}
    assert root.findtext("title").startswith("</name>")
    assert len(root.findtext("title")) <= 200
