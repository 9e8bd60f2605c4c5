"""Files that once ended in a trace or took minutes: each has its message, or is read right."""

from __future__ import annotations

import pytest
import rasterio
import shapely
from affine import Affine
from shapely import affinity

from reachmap.base.errors import MOST_LISTED, Fault, FaultsError, MarkupError
from reachmap.markup import read_markup
from tests.markup.folders import TOML, X, Y, layers, make, rows, write_dem

RATING = (
    '# //RATING OFFSET1="{}"\nINDEP\tSHIFT\tDEP\tSTOR\n16N\t16N\t16N\t1S\n'
    "1.0\t0\t10\t\n8.0\t0\t100000\t\n"
)


def faults_of(folder) -> MarkupError:
    with pytest.raises(MarkupError) as told:
        read_markup(folder)
    return told.value


def with_gauge(folder, name: str, text: str):
    make(folder)
    (folder / "gauge" / "rating.csv").unlink()
    (folder / "gauge" / name).write_text(text, encoding="utf-8", newline="")
    return folder


@pytest.mark.parametrize("offset", ["E+00", "1.2.3", "-", "1E+", "--1", "0.5x"])
def test_an_offset_that_is_no_number_is_a_fault(offset, tmp_path):
    told = faults_of(with_gauge(tmp_path, "r.rdb", RATING.format(offset)))
    assert "gauge file r.rdb: its breakpoints or offsets are no numbers" in str(told)


@pytest.mark.parametrize("offset", ["0.5", "5.0E-01", "+.5", ""])
def test_offsets_in_any_spelling_of_numbers_are_read(offset, tmp_path):
    markup = read_markup(with_gauge(tmp_path, "r.rdb", RATING.format(offset)))
    wanted = 0.0 if not offset else 0.5 * 0.3048
    assert markup.gauge.segments[0].offset_m == pytest.approx(wanted)


def test_a_shift_that_is_no_number_is_left_out(tmp_path):
    head = '# //SHIFT_PREV STAGE1="1.2.3" SHIFT1="E+00" STAGE2="2.0" SHIFT2="0.1"\n'
    markup = read_markup(
        with_gauge(tmp_path, "r.rdb", head + RATING.format("").replace("SHIFT\t", "X\t"))
    )
    assert markup.gauge.shift.stage_m == pytest.approx([2.0 * 0.3048])


def test_measurements_without_their_time_are_a_fault(tmp_path):
    text = "measurement_nu\tgage_height_va\tdischarge_va\n5s\t10n\t10n\n1\t2.0\t400\n"
    told = faults_of(with_gauge(tmp_path, "m.rdb", text))
    assert "gauge file m.rdb: its measurements have no column measurement_dt" in str(told)


def test_a_cell_beyond_all_measure_is_a_fault_of_its_file(tmp_path):
    text = "time,flow\n2001-01-01," + "9" * 200_000 + ',"a\n'
    assert "gauge file r.csv: its rows make no sense" in str(
        faults_of(with_gauge(tmp_path, "r.csv", text))
    )


@pytest.mark.parametrize(
    ("flows", "found"),
    [
        ("[20, 1" + "0" * 400 + "]", "is too large. Give 0.01 to 50,000 m3/s"),
        ("[20, 1" + "0" * 5000 + "]", "it is not valid TOML"),
        ("[" * 5000, "it is not valid TOML"),
    ],
)
def test_flows_beyond_all_measure_are_a_fault(flows, found, tmp_path):
    make(tmp_path, toml=TOML.replace("list = [20, 30, 45]", f"list = {flows}"))
    assert found in str(faults_of(tmp_path))


SITE = 'ENGCRS["site",EDATUM["x"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["m",1]]'


def test_a_layer_in_the_frame_of_a_building_site_is_a_fault(tmp_path):
    folder = make(tmp_path, made={**rows(), "trees": []})
    layers()["trees"].set_crs(SITE, allow_override=True).to_file(folder / "trees.gpkg")
    assert "says no place on the Earth" in str(faults_of(folder))


def test_a_dem_in_the_frame_of_a_building_site_is_a_fault(tmp_path):
    folder = make(tmp_path, dem=False)
    write_dem(folder / "dem.tif", crs=SITE)
    told = str(faults_of(folder))
    assert "DEM dem.tif: it" in told
    assert "CRS" in told


@pytest.mark.parametrize(
    ("place", "found"),
    [
        (Affine(4, 0, float("nan"), 0, -4, Y), "where it lies makes no sense"),
        (Affine(4, 0, X, 0, -4, Y) * Affine.rotation(20), "rows do not run from west to east"),
        (Affine(4, 0, X, 0, 4, Y), "rows do not run from west to east"),
    ],
)
def test_a_dem_that_lies_askew_or_nowhere_is_a_fault(place, found, tmp_path):
    folder = make(tmp_path)
    with rasterio.open(folder / "dem.tif", "r+") as target:
        target.transform = place
    assert f"DEM dem.tif: it cannot be read ({found}" in str(faults_of(folder)).replace("its ", "")


def test_banks_drawn_many_times_are_found_quickly(tmp_path, monkeypatch):
    made = rows()
    made["banks"] = made["banks"] * 200
    cut = shapely.intersection
    cuts: list[int] = []
    monkeypatch.setattr(shapely, "intersection", lambda *pair: cuts.append(1) or cut(*pair))
    told = faults_of(make(tmp_path, made=made))
    assert len(cuts) < 50  # 80,000 when each copy was cut with each other
    copies = [fault for fault in told.faults if "drawn 200 times" in fault.found]
    assert len(copies) == 4
    assert copies[0].where == "banks 'upper bar' (feature 1 of markup.gpkg)"
    assert "(also banks 'upper bar' (feature 5 of" in copies[0].found
    assert copies[0].found.endswith("and 196 more)")
    assert not [fault for fault in told.faults if "overlaps" in fault.found]


def test_banks_that_overlap_beyond_counting_stop_the_counting(tmp_path, monkeypatch):
    monkeypatch.setattr("reachmap.markup.check_banks.MOST_PAIRS", 50)
    made = rows()
    made["banks"] = [
        {**bank, "geometry": affinity.translate(bank["geometry"], 0.1 * step, 0)}
        for step in range(20)
        for bank in made["banks"]
    ]
    told = faults_of(make(tmp_path, made=made))
    assert 0 < len([fault for fault in told.faults if "it overlaps" in fault.found]) <= 50
    assert any("more than 50 pairs overlap" in fault.found for fault in told.faults)


def test_a_message_lists_the_first_faults_and_counts_the_others():
    faults = [Fault(f"place {number}", "found", "Mend") for number in range(MOST_LISTED + 1234)]
    error = FaultsError(faults)
    assert error.faults == tuple(faults)
    lines = str(error).splitlines()
    assert lines[0] == f"{MOST_LISTED + 1234} things to put right:"
    assert lines[MOST_LISTED].endswith(f"place {MOST_LISTED - 1}: found. Mend")
    assert lines[-1] == "  and 1,234 more like these"
    assert len(lines) == MOST_LISTED + 2


def test_a_message_of_few_faults_counts_no_others():
    assert "more like these" not in str(FaultsError([Fault("a", "b", "c")] * MOST_LISTED))


def test_a_line_of_a_message_is_never_endless():
    line = str(FaultsError([Fault("a", "b" * 10_000, "Mend it so")])).splitlines()[1]
    assert len(line) < 700
    assert line.endswith("Mend it so")
