"""Which picture from the air a reach folder holds, and what is wrong with one."""

from __future__ import annotations

from pathlib import Path

import pytest

from reachmap.markup.config.plan import read_plan
from reachmap.markup.files import IMAGERY_PATTERNS
from reachmap.markup.imagery import look_at_imagery
from tests.base.made_imagery import geotiff, mbtiles, pmtiles

UTM = "EPSG:32610"
MERCATOR = (-13_600_000.0, 5_700_000.0, -13_599_900.0, 5_700_100.0)


def made(folder: Path, name: str) -> Path:
    return geotiff(folder / name, (500_000, 5_000_000, 500_040, 5_000_040), UTM)


def test_a_folder_without_one_has_none(tmp_path):
    assert look_at_imagery(tmp_path, IMAGERY_PATTERNS) == (None, [])


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("imagery.tif", made),
        ("imagery_2031.tiff", made),
        ("imagery.pmtiles", lambda folder, name: pmtiles(folder / name, MERCATOR)),
        ("imagery.mbtiles", lambda folder, name: mbtiles(folder / name, MERCATOR)),
    ],
)
def test_each_kind_is_found_by_its_name(tmp_path, name, make):
    make(tmp_path, name)
    assert look_at_imagery(tmp_path, IMAGERY_PATTERNS) == (tmp_path / name, [])


def test_several_want_one_to_be_named(tmp_path):
    made(tmp_path, "imagery_1.tif")
    second = made(tmp_path, "imagery_2.tif")
    path, (fault,) = look_at_imagery(tmp_path, IMAGERY_PATTERNS)
    assert path is None
    assert "there are several: imagery_1.tif, imagery_2.tif" in fault.found
    assert "[imagery] file" in fault.fix
    assert look_at_imagery(tmp_path, (second.name,)) == (second, [])


def test_a_name_that_no_file_has_is_a_fault(tmp_path):
    path, (fault,) = look_at_imagery(tmp_path, ("survey.tif",))
    assert path is None
    assert fault.where == "reach.toml, [imagery] file"
    assert "no file is called survey.tif" in fault.found


def test_a_link_out_of_the_folder_and_a_bad_file_are_one_fault_each(tmp_path):
    folder = tmp_path / "reach"
    folder.mkdir()
    outside = made(tmp_path, "outside.tif")
    (folder / "imagery.tif").symlink_to(outside)
    path, (fault,) = look_at_imagery(folder, IMAGERY_PATTERNS)
    assert path is None
    assert "leads out of the folder" in fault.found
    (folder / "imagery.tif").unlink()
    (folder / "imagery.tif").write_bytes(b"II*\0" + b"\xff" * 50)
    path, (fault,) = look_at_imagery(folder, IMAGERY_PATTERNS)
    assert path is None
    assert fault.where == "imagery imagery.tif"
    assert fault.fix


@pytest.mark.parametrize("name", ["../imagery.tif", "/etc/passwd", "C:\\\\a.tif"])
def test_reach_toml_names_a_file_inside_the_folder_alone(name):
    text = f'format = 1\nname = "a"\nunits = "us"\n[imagery]\nfile = "{name}"\n'
    faults = [one for one in read_plan(text).faults if "imagery" in one.where]
    assert len(faults) == 1


def test_reach_toml_names_file_and_credit():
    text = 'format = 1\nname = "a"\nunits = "us"\n[imagery]\nfile = "air.tif"\ncredit = "County"\n'
    asked = read_plan(text)
    assert asked.imagery_files == ("air.tif",)
    assert asked.plan.imagery_credit == "County"
    assert read_plan("format = 1").imagery_files == IMAGERY_PATTERNS
