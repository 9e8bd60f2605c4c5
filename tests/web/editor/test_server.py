"""Every address of the page, asked as the page asks it."""

import io
import json

import numpy as np
import pytest
from PIL import Image

from reachmap.base.crs import transform_points
from reachmap.markup.starter import write_new
from reachmap.markup.write import MARKUP_FILE
from reachmap.web.editor.reach_facts import begun
from reachmap.web.editor.session import prepare
from tests.base.made_imagery import geotiff
from tests.web.editor.folders import HOME, bank, body, plain, river, sounding
from tests.web.editor.serving import serving
from tests.web.editor.test_basemap import dem, picture
from tests.web.editor.test_imports import GPX


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def served(home):
    with serving(home) as one:
        yield one


def test_a_new_folder_opens_with_all_the_page_needs(served, home):
    told = served.told("drawing")
    assert told["version"] == 1
    assert told["marks"] == []
    assert told["facts"]["name"] == "home"
    assert told["units"]["flow"] == "cfs"
    assert [layer["name"] for layer in told["layers"]][:2] == ["river", "banks"]
    assert told["relief"] is None
    assert told["folder"] == str(home)
    rise = next(f for f in told["layers"][1]["fields"] if f["name"] == "rise")
    assert (rise["unit"], rise["number"]) == ("ft", True)


def test_saving_answers_with_the_version_and_a_stale_one_is_refused(served, home):
    assert served.told("drawing", json_body=body([river()])) == {"version": 2}
    status, _, answer = served.ask("drawing", json_body=body([bank()]))
    assert status == 409
    assert json.loads(answer)["stale"] is True
    assert [one[0] for one in plain(home)] == ["river"]
    assert served.told("state") == {"version": 2, "outside": False}


@pytest.mark.parametrize("path", ["drawing", "facts", "basemap", "buffer"])
@pytest.mark.parametrize("sent", [b"", b"[]", b"{", b"\xff\xfe", b'{"version": "1"}'])
def test_what_is_no_message_is_told_in_words(served, path, sent):
    status, _, answer = served.ask(path, body=sent)
    assert status == 422
    assert json.loads(answer)["said"]


def test_facts_beneath_and_picture_share_the_version(served, home):
    told = served.told("facts", json_body={"version": 1, "facts": {"slope": "0.002"}})
    assert (told["version"], told["facts"]["slope"]) == (2, "0.002")
    kept = served.told("picture", body=picture())
    laid = {**kept, "place": [*HOME, 200, 0], "points": []}
    basemap = {"start": list(HOME), "tiles": "", "credit": "", "grid": True, "picture": laid}
    told = served.told("basemap", json_body={"version": 2, "basemap": basemap})
    assert told["version"] == 3
    assert served.ask("basemap", json_body={"version": 2, "basemap": basemap})[0] == 409
    status, headers, shown = served.ask(f"picture/{kept['file']}")
    assert (status, headers["Content-Type"], shown) == (200, "image/png", picture())
    assert (home / "underlay" / kept["file"]).exists()


def test_a_strip_comes_back_as_an_outline(served):
    edge = [[HOME[0] + 0.001 * i, HOME[1]] for i in range(4)]
    told = served.told("buffer", json_body={"path": edge, "width": "100", "beside": None})
    assert len(told["paths"]) == 1
    assert len(told["paths"][0]) >= 4


def test_a_dropped_file_comes_back_as_things_to_take_in(served):
    told = served.told("import?name=a.gpx", body=GPX)
    assert [one["shape"] for one in told["found"]] == ["Point", "Point", "LineString"]
    assert served.ask("import", body=GPX)[0] == 422


def test_the_relief_is_a_picture_where_there_is_a_dem(home):
    home.mkdir()
    dem(home / "dem.tif", np.add.outer(np.arange(60.0), np.arange(80.0)))
    with serving(home) as served:
        south, west, north, east = served.told("drawing")["relief"]
        assert south < north
        assert west < east
        status, headers, data = served.ask("relief.webp")
        assert (status, headers["Content-Type"]) == (200, "image/webp")
        assert Image.open(io.BytesIO(data)).size[0] > 50


def test_without_a_dem_there_is_no_relief(served):
    assert served.ask("relief.webp")[0] == 404


def test_the_picture_from_the_air_of_the_folder_is_laid_below_the_marks(home):
    home.mkdir()
    west, south = -13_600_000.0, 5_700_000.0
    geotiff(home / "imagery.tif", (west, south, west + 200, south + 100), "EPSG:3857")
    with serving(home) as served:
        told = served.told("drawing")
        edges = np.array(told["imagery"])
        x, y = transform_points(
            np.array([west, west + 200]), np.array([south, south + 100]), "EPSG:3857", "EPSG:4326"
        )
        np.testing.assert_allclose(edges, [y[0], x[0], y[1], x[1]], atol=1e-5)
        status, headers, data = served.ask("imagery.webp")
        assert (status, headers["Content-Type"]) == (200, "image/webp")
        picture = np.array(Image.open(io.BytesIO(data)).convert("RGBA"))
        assert (picture[..., 3] > 200).mean() > 0.95
        left, right = picture[:, : picture.shape[1] // 3], picture[:, -picture.shape[1] // 3 :]
        assert left[..., 0].mean() > 150 > right[..., 0].mean()


@pytest.mark.parametrize("body", [None, b"II*\0" + b"\xff" * 60, b"PMTiles\x03" + b"\0" * 200])
def test_without_a_fit_picture_from_the_air_there_is_none(home, body):
    home.mkdir()
    if body is not None:
        (home / "imagery.tif").write_bytes(body)
    with serving(home) as served:
        assert served.told("drawing")["imagery"] is None
        assert served.ask("imagery.webp")[0] == 404


def test_loading_again_takes_what_another_program_wrote(served, home):
    served.told("drawing", json_body=body([river(), sounding()]))
    (home / MARKUP_FILE).unlink()
    assert served.told("state")["outside"] is True
    assert served.ask("drawing", json_body=body([river()], 2))[0] == 409
    told = served.told("reload", body=b"{}")
    assert told["marks"] == []
    assert served.told("drawing", json_body=body([river()], told["version"]))
    assert [one[0] for one in plain(home)] == ["river"]


def test_what_was_brought_back_is_said_once(home):
    prepare(home)
    (home / ".drawing-unsaved.json").write_text("torn")
    with serving(home) as served:
        assert "brought-back-1" in served.told("drawing")["said"]
        assert served.told("drawing")["said"] == ""


def test_preparing_leaves_what_is_there(tmp_path):
    write_new(tmp_path / "full")
    toml = (tmp_path / "full" / "reach.toml").read_bytes()
    assert prepare(tmp_path / "full") is False
    assert (tmp_path / "full" / "reach.toml").read_bytes() == toml
    write_new(tmp_path / "half")
    (tmp_path / "half" / "reach.toml").unlink()
    drawing = (tmp_path / "half" / MARKUP_FILE).read_bytes()
    assert prepare(tmp_path / "half") is True
    assert (tmp_path / "half" / MARKUP_FILE).read_bytes() == drawing
    assert (tmp_path / "half" / "reach.toml").read_text() == begun("half")


def test_the_examples_of_a_folder_by_new_are_told_as_examples(tmp_path):
    write_new(tmp_path / "new")
    with serving(tmp_path / "new") as served:
        assert served.told("drawing")["invented"] == ["traced_flow", "slope", "flows"]
