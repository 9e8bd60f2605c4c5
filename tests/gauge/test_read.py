"""Gauge files: real ones where they could be had (data/README.md)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from reachmap.base.units import from_si, to_si
from reachmap.gauge.model import RatingShift
from reachmap.gauge.rdb import rating_head, segments_of
from reachmap.gauge.shift import shift_at, shift_of_comments, shifted
from reachmap.gauge.stage_flow import flow_from_stage, rated_range
from tests.gauge.gauges import DATA, at, good, read

TABLES = Path(__file__).resolve().parents[2] / "shared" / "tables"

POINTS = pd.read_csv(TABLES / "rating_points.csv", comment="#", dtype={"site": str})
LOOKUPS = pd.read_csv(TABLES / "rating_lookups.csv", comment="#", dtype={"site": str})
MEASURED = pd.read_csv(TABLES / "rating_measurements.csv", comment="#")
SHIFTS = pd.read_csv(TABLES / "rating_shifts.csv", comment="#", dtype={"site": str})


@pytest.mark.table
def test_a_real_rating_file_gives_its_printed_points():
    gauge = good(DATA / "rating_base.rdb")
    printed = POINTS[POINTS["site"] == "01594440"]
    [piece] = gauge.segments
    assert gauge.name == "PATUXENT RIVER NEAR BOWIE, MD"
    assert from_si(piece.offset_m, "ft") == pytest.approx(2.0)
    np.testing.assert_allclose(from_si(piece.stage_m, "ft"), printed["stage_ft"])
    np.testing.assert_allclose(from_si(piece.flow, "cfs"), printed["flow_cfs"])


@pytest.mark.table
def test_breakpoints_and_offsets_cut_a_rating_into_its_pieces():
    gauge = good(DATA / "rating_pieces.rdb")
    for number, piece in enumerate(gauge.segments, start=1):
        printed = POINTS[(POINTS["site"] == "12334550") & (POINTS["segment"] == number)]
        assert from_si(piece.offset_m, "ft") == pytest.approx(printed["offset_ft"].iloc[0])
        np.testing.assert_allclose(from_si(piece.stage_m, "ft"), printed["stage_ft"])
        np.testing.assert_allclose(from_si(piece.flow, "cfs"), printed["flow_cfs"])
    assert len(gauge.segments) == 2


@pytest.mark.table
@pytest.mark.parametrize("row", list(LOOKUPS.itertuples(index=False)), ids=str)
def test_flow_between_rating_points(row):
    printed = POINTS[POINTS["site"] == row.site]
    stage = to_si(printed["stage_ft"].to_numpy(), "ft")
    flow = to_si(printed["flow_cfs"].to_numpy(), "cfs")
    _, first = np.unique(stage, return_index=True)
    offsets = printed.drop_duplicates("segment")["offset_ft"].to_numpy()
    begins = printed.drop_duplicates("segment")["stage_ft"].to_numpy()[1:]
    pieces = segments_of(stage[first], flow[first], to_si(begins, "ft"), to_si(offsets, "ft"))
    got = from_si(flow_from_stage(pieces, np.array([to_si(row.stage_ft, "ft")])), "cfs")
    assert got[0] == pytest.approx(row.flow_cfs, abs=row.tolerance_cfs)


@pytest.mark.table
@pytest.mark.parametrize("row", list(MEASURED.itertuples(index=False)), ids=str)
def test_the_rating_at_real_measurements(row):
    pieces = good(DATA / "rating_base.rdb").segments
    got = from_si(flow_from_stage(pieces, np.array([to_si(row.stage_ft, "ft")])), "cfs")
    assert got[0] == pytest.approx(row.rated_cfs, abs=0.006)


@pytest.mark.table
def test_real_measurements_are_read_with_their_time_zones():
    measured = good(DATA / "measurements.rdb").measured
    table = MEASURED.set_index("number")
    for index, number in enumerate(measured.number):
        if number in map(str, table.index):
            row = table.loc[int(number)]
            assert from_si(measured.stage_m[index], "ft") == pytest.approx(row["stage_ft"])
            assert from_si(measured.flow[index], "cfs") == pytest.approx(row["flow_cfs"])
    assert measured.number[1] == "290C"
    assert measured.times[2] == at("2015-10-29T16:25:00")  # 12:25 EDT
    assert measured.times[3] == at("2015-12-09T17:55:18")  # 12:55:18 EST
    assert measured.quality == (
        *("unspecified", "poor", "fair", "good", "poor", "poor", "fair", "fair"),
    )


@pytest.mark.table
def test_the_shift_of_a_real_file_between_its_pairs():
    comments = (DATA / "rating_exsa.rdb").read_text(encoding="utf-8").splitlines()
    shift = shift_of_comments(comments)
    printed = SHIFTS[(SHIFTS["site"] == "12323800") & (SHIFTS["kind"] == "between")]
    got = from_si(shift_at(shift, to_si(printed["stage_ft"].to_numpy(), "ft")), "ft")
    np.testing.assert_allclose(got, printed["shift_ft"], atol=1e-12)


@pytest.mark.table
def test_a_shift_of_three_pairs():
    pairs = SHIFTS[(SHIFTS["site"] == "12324400") & (SHIFTS["kind"] == "pair")]
    told = " ".join(
        f'STAGE{i}="{row.stage_ft}" SHIFT{i}="{row.shift_ft}"'
        for i, row in enumerate(pairs.itertuples(), start=1)
    )
    shift = shift_of_comments([f"# //SHIFT_PREV {told}"])
    printed = SHIFTS[(SHIFTS["site"] == "12324400") & (SHIFTS["kind"] == "between")]
    got = from_si(shift_at(shift, to_si(printed["stage_ft"].to_numpy(), "ft")), "ft")
    np.testing.assert_allclose(got, printed["shift_ft"], atol=1e-12)


def test_a_table_with_the_shift_in_it_is_not_shifted_again():
    gauge = good(DATA / "rating_exsa.rdb")
    assert gauge.shift is None
    assert from_si(gauge.segments[0].flow[1], "cfs") == pytest.approx(204.5)


def test_stages_are_shifted_before_a_base_rating_is_asked():
    shift = RatingShift(np.array([1.0, 2.0]), np.array([-0.2, 0.0]))
    np.testing.assert_allclose(shifted(np.array([0.5, 1.5, 3.0]), shift), [0.3, 1.4, 3.0])
    assert shifted(np.array([1.0]), None)[0] == 1.0


def test_of_a_base_and_a_shifted_rating_the_shifted_one_counts():
    gauge, faults, notes = read(DATA / "rating_base.rdb", DATA / "rating_exsa.rdb")
    assert not faults
    assert from_si(gauge.segments[0].flow[-1], "cfs") == pytest.approx(900)
    assert any(
        "rating_exsa.rdb: its rating, with shifts, is the one used" in note for note in notes
    )


@pytest.mark.table
def test_a_real_record_of_daily_means_stands_at_noon():
    gauge = good(DATA / "daily.rdb")
    assert gauge.name == "CHATTOOGA RIVER NEAR CLAYTON, GA"
    assert gauge.times[1] == at("2012-09-18T12:00:00")
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [203, 1470, 1220, 671, 503, 411, 365])


def test_noon_is_that_of_the_gauges_zone():
    gauge = good(DATA / "daily.rdb", zone="America/New_York")
    assert gauge.times[0] == at("2012-09-17T16:00:00")


def test_readings_with_zone_codes_ice_and_faults():
    gauge, faults, notes = read(DATA / "instant.rdb")
    assert not faults
    assert gauge.times[0] == at("1989-10-01T05:30:00")
    # the hour that the end of summer time repeats is two hours by its codes
    assert gauge.times[1:3].tolist() == [at("1989-10-29T05:30:00"), at("1989-10-29T06:30:00")]
    assert np.isnan(gauge.flow[3:7]).all()
    assert from_si(gauge.flow[-1], "cfs") == pytest.approx(470)
    assert any("instant.rdb: 1 times make no sense and are left out" in note for note in notes)


def test_a_finer_record_speaks_for_its_days(tmp_path):
    text = "time,flow_cfs\n2012-09-18T06:00Z,1600\n2012-09-18T18:00Z,1300\n2012-09-19T06:00Z,\n"
    (tmp_path / "fine.csv").write_text(text, encoding="utf-8")
    gauge = good(tmp_path / "fine.csv", DATA / "daily.rdb")
    flows = dict(zip(gauge.times.tolist(), from_si(gauge.flow, "cfs").tolist(), strict=True))
    assert at("2012-09-18T12:00").item() not in flows
    assert flows[at("2012-09-18T06:00").item()] == pytest.approx(1600)
    assert flows[at("2012-09-19T12:00").item()] == pytest.approx(
        1220
    )  # a day of gaps is not spoken for
    assert (np.diff(gauge.times) > np.timedelta64(0, "s")).all()


def test_the_json_of_the_newer_service():
    gauge = good(DATA / "daily.json")
    assert gauge.name == "USGS-05427718"
    assert gauge.times.tolist() == [at("2025-12-26T12:00").item(), at("2026-03-19T12:00").item()]
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [20.2, 27.1])


def test_readings_of_the_newer_service_under_ice_or_with_a_fault_are_gaps(tmp_path):
    told = json.loads((DATA / "daily.json").read_text(encoding="utf-8"))
    told["features"][0]["properties"] |= {"value": None, "qualifier": ["ICE"]}
    told["features"][1]["properties"] |= {"value": "-999999", "qualifier": ["EQUIP"]}
    (tmp_path / "daily.json").write_text(json.dumps(told), encoding="utf-8")
    gauge = good(tmp_path / "daily.json")
    assert gauge.times.size == 2
    assert np.isnan(gauge.flow).all()


def test_stages_alone_want_a_rating(tmp_path):
    gauge, faults, notes = read(DATA / "continuous.json")
    assert gauge is None
    assert not faults
    assert any("stages without a rating give no flow" in note for note in notes)
    rating = tmp_path / "rating.csv"
    rating.write_text("stage_ft,flow_cfs\n0.1,5\n0.39,12\n2,90\n", encoding="utf-8")
    gauge = good(DATA / "continuous.json", rating)
    assert gauge.times[0] == at("2025-09-22T16:00:00")
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [12, 12])


def test_field_measurements_of_the_newer_service_pair_by_visit(tmp_path):
    text = (DATA / "field.json").read_text(encoding="utf-8")
    gauge, faults, notes = read(DATA / "field.json")
    assert (gauge, faults) == (None, [])
    assert any("no visit of it has both stage and flow" in note for note in notes)
    one, other = "513fca2f-4fc3-4311-e053-0100007fc781", "8115aa6f-ab7a-4a1c-b831-c98793bf0d34"
    (tmp_path / "field.json").write_text(text.replace(other, one), encoding="utf-8")
    measured = good(tmp_path / "field.json").measured
    assert measured.times.tolist() == [at("2014-06-19T16:00:27").item()]
    assert from_si(measured.stage_m[0], "ft") == pytest.approx(3.14)
    assert from_si(measured.flow[0], "cfs") == pytest.approx(16.6)
    assert measured.quality == ("good",)


def test_waterml_2_with_missing_values():
    gauge = good(DATA / "waterml2.xml")
    assert gauge.name == "INVENTED GAUGE"
    assert gauge.times[0] == at("2012-01-01T18:00:00")
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [100, np.nan, 104])


def test_a_rating_at_a_breakpoint_that_is_no_point_of_it_has_one_made():
    stage, flow = np.array([1.0, 3.0]), np.array([1.0, 27.0])  # Q = h^3 below
    low, high = segments_of(stage, flow, [2.0], [0.0, 0.5])
    assert low.stage_m.tolist() == [1.0, 2.0]
    assert high.stage_m.tolist() == [2.0, 3.0]
    assert low.flow[-1] == pytest.approx(8.0)
    assert high.flow[0] == low.flow[-1]


def test_beyond_the_rating_nobody_measured():
    pieces = good(DATA / "rating_base.rdb").segments
    low, high = rated_range(pieces)
    assert (from_si(low, "cfs"), from_si(high, "cfs")) == pytest.approx((30, 31100))
    stages = to_si(np.array([2.98, 2.99, 27.9, 27.91, np.nan]), "ft")
    assert np.isnan(flow_from_stage(pieces, stages)).tolist() == [True, False, False, True, True]


def test_a_point_without_flow_or_at_the_offset_is_met_by_a_straight_line():
    pieces = segments_of(np.array([1.0, 2.0, 3.0]), np.array([0.0, 4.0, 9.0]), [], [1.0])
    assert flow_from_stage(pieces, np.array([1.5]))[0] == pytest.approx(2.0)


def test_remarks_that_look_like_keys_are_not_keys():
    text = (DATA / "rating_pieces.rdb").read_text(encoding="utf-8")
    head = rating_head([line for line in text.splitlines() if line.startswith("#")])
    assert (head.breakpoints, head.offsets) == ((2.65,), (0.0, 0.2))


@pytest.mark.slow
def test_fifteen_years_of_quarter_hours_are_read_in_seconds(tmp_path):
    head = "agency_cd\tsite_no\tdatetime\ttz_cd\t1_00060\t1_00060_cd\n5s\t15s\t20d\t6s\t14n\t10s\n"
    times = pd.date_range("2005-01-01", "2020-01-01", freq="15min").strftime("%Y-%m-%d %H:%M")
    rows = "".join(f"USGS\t00000000\t{time}\tPST\t{i % 977}\tA\n" for i, time in enumerate(times))
    (tmp_path / "long.rdb").write_text(head + rows, encoding="utf-8")
    gauge = good(tmp_path / "long.rdb")
    assert gauge.flow.size == times.size
    assert from_si(gauge.flow[976], "cfs") == pytest.approx(976)
