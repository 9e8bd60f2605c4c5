"""Windows simulated: names it refuses, mixes up or drops signs of; what we write holds none."""

from __future__ import annotations

import pytest

from reachmap.base import paths
from reachmap.base.paths import OutsideError, fits_windows, inside
from reachmap.base.units import flow_label, to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.starter import write_new
from reachmap.outputs.write import write_all
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product
from tests.outputs.test_gpx import NASTY
from tests.windows import LONGEST, windows_hazards

REFUSED = [
    "nul",
    "CON",
    "aux.json",
    "com1.txt",
    "LPT9",
    "com¹",
    "a:b",
    "a?b",
    "end.",
    "end ",
    "a|b",
]


@pytest.mark.parametrize("name", REFUSED)
def test_a_name_that_windows_would_not_take_is_refused_there_and_there_alone(
    name, tmp_path, monkeypatch
):
    assert not fits_windows(name)
    assert inside(tmp_path, f"gauge/{name}") == tmp_path / "gauge" / name
    monkeypatch.setattr(paths, "ON_WINDOWS", True)
    with pytest.raises(OutsideError):
        inside(tmp_path, f"gauge/{name}")


@pytest.mark.parametrize("name", ["console.txt", "com10.csv", "auxiliary", ".lock", "a b.tif"])
def test_names_that_only_look_like_devices_are_taken(name, tmp_path, monkeypatch):
    monkeypatch.setattr(paths, "ON_WINDOWS", True)
    assert inside(tmp_path, name) == tmp_path / name


@pytest.mark.parametrize("hostile", [None, NASTY, "CON", "a:b"])
def test_a_whole_written_folder_holds_no_name_that_windows_refuses(hostile, tmp_path):
    product = with_doubt(made_product(text=hostile, cell=4.0), text=hostile)
    write_all(product, tmp_path / "written")
    assert (tmp_path / "written" / "gis" / "reach.qgz").exists()
    assert windows_hazards(tmp_path) == []


def test_a_new_reach_folder_holds_none(tmp_path):
    write_new(tmp_path / "river")
    assert windows_hazards(tmp_path) == []


@pytest.mark.parametrize("units", list(UnitSystem))
def test_labels_of_flows_make_names(units):
    for flow in (0.04, 0.5, 1.5, 42.0, to_si(2400, "cfs"), 9999.5):
        assert fits_windows(f"depth_{flow_label(flow, units)}.tif")


def test_the_check_bites(tmp_path):
    for name in ("Depth.tif", "depth.tif", "nul.txt", "x" * (LONGEST + 1)):
        (tmp_path / name).write_text("")
    found = windows_hazards(tmp_path)
    assert {name[:9] for name in found} == {"Depth.tif", "depth.tif", "nul.txt", "xxxxxxxxx"}
