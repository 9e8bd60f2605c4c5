"""Records and forecasts in the forms in which agencies publish them (data/README.md)."""

from __future__ import annotations

import json

import netCDF4
import numpy as np
import pytest

from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import GaugeNote
from reachmap.gauge.read import read_gauge
from reachmap.gauge.series import NOTHING
from reachmap.markup.config import read_plan
from reachmap.pipeline.days import Gathered, read_forecast
from tests.gauge.gauges import DATA, at, good, read


def forecast_of(path, **note):
    gauge, faults, notes = read_gauge([path], GaugeNote(**note), UnitSystem.US, forecast=True)
    return gauge, [str(fault) for fault in faults], notes


def test_of_stage_and_flow_the_record_takes_what_was_observed():
    gauge, faults, notes = read(DATA / "stageflow.json")
    assert not faults
    assert gauge.times.tolist() == [at("2024-03-28T11:30").item(), at("2024-03-28T11:45").item()]
    # the service's own figures for this gauge and instant: 1.43 kcfs, 4.56 ft
    assert from_si(gauge.flow[1], "cfs") == pytest.approx(1430)
    assert any("its forecast is no record" in note for note in notes)


def test_of_stage_and_flow_a_forecast_takes_what_is_forecast():
    gauge, faults, _ = forecast_of(DATA / "stageflow.json")
    assert not faults
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [1500, 1610, np.nan])
    assert gauge.times[0] == at("2024-03-28T18:00")


def test_a_product_alone_is_told_by_its_code(tmp_path):
    whole = json.loads((DATA / "stageflow.json").read_text(encoding="utf-8"))
    (tmp_path / "f.json").write_text(json.dumps(whole["forecast"]), encoding="utf-8")
    gauge, _, notes = read(tmp_path / "f.json")
    assert gauge is None
    assert any("a forecast is no record" in note for note in notes)
    assert forecast_of(tmp_path / "f.json")[0].flow.size == 3


def test_a_forecast_point_without_a_forecast_is_told(tmp_path):
    whole = json.loads((DATA / "stageflow.json").read_text(encoding="utf-8"))
    whole["forecast"]["data"] = []
    (tmp_path / "f.json").write_text(json.dumps(whole), encoding="utf-8")
    _, [fault], _ = forecast_of(tmp_path / "f.json")
    assert "nothing is forecast in it" in fault


def test_primary_and_secondary_may_stand_the_other_way_round(tmp_path):
    text = (DATA / "stageflow.json").read_text(encoding="utf-8")
    text = text.replace("primary", "X").replace("secondary", "primary").replace("X", "secondary")
    (tmp_path / "f.json").write_text(text, encoding="utf-8")
    assert from_si(good(tmp_path / "f.json").flow[1], "cfs") == pytest.approx(1430)


def test_older_json_of_the_agency_in_the_units_of_its_parameters(tmp_path):
    _, [fault], _ = read(DATA / "waterml.json")
    assert "it holds 2 gauges (03339000, 05447500)" in fault
    told = json.loads((DATA / "waterml.json").read_text(encoding="utf-8"))
    del told["value"]["timeSeries"][1]
    (tmp_path / "iv.json").write_text(json.dumps(told), encoding="utf-8")
    gauge = good(tmp_path / "iv.json")
    assert gauge.times[0] == at("2018-01-24T00:00")
    assert from_si(gauge.flow[0], "cfs") == pytest.approx(1)


def test_older_json_that_names_its_unit_and_its_mark_for_none(tmp_path):
    told = json.loads((DATA / "waterml.json").read_text(encoding="utf-8"))
    told["value"]["timeSeries"] = told["value"]["timeSeries"][:1]
    [series] = told["value"]["timeSeries"]
    series["variable"] |= {"unit": {"unitCode": "m3/s"}, "noDataValue": -999999.0}
    series["sourceInfo"]["siteName"] = "A RIVER"
    series["values"][0]["value"] = [
        {"value": "2.5", "dateTime": "2018-01-24T00:00:00.000-06:00"},
        {"value": "-999999", "dateTime": "2018-01-24T00:15:00.000-06:00"},
    ]
    (tmp_path / "iv.json").write_text(json.dumps(told), encoding="utf-8")
    gauge = good(tmp_path / "iv.json")
    assert gauge.name == "A RIVER"
    assert gauge.times[0] == at("2018-01-24T06:00")
    np.testing.assert_allclose(gauge.flow, [2.5, np.nan])


def test_stations_of_the_north_as_features():
    gauge = good(DATA / "station.json")
    assert gauge.name == "A River Above The Bridge"
    np.testing.assert_allclose(gauge.flow, [45.6, np.nan, 47.2])
    assert gauge.times[0] == at("2024-04-15T12:00")


def test_two_stations_in_one_file_are_refused(tmp_path):
    text = (DATA / "station.json").read_text(encoding="utf-8")
    text = text.replace('"STATION_NUMBER": "08XX005"', '"STATION_NUMBER": "08XX006"', 1)
    (tmp_path / "s.json").write_text(text, encoding="utf-8")
    _, [fault], _ = read(tmp_path / "s.json")
    assert "it holds 2 stations" in fault


def test_csv_with_heads_in_two_languages_and_flow_in_cms():
    gauge = good(DATA / "station.csv")
    np.testing.assert_allclose(gauge.flow, [45.6, np.nan, 47.2])
    assert gauge.times[0] == at("2024-04-15T20:00")  # 12:00 at -08:00


@pytest.mark.parametrize("name", ["readings.json", "readings.csv"])
def test_readings_of_a_measure_by_the_end_of_its_name(name):
    gauge = good(DATA / name)
    np.testing.assert_allclose(gauge.flow, [21.4, 21.9])
    assert gauge.times[0] == at("2024-02-01T00:00")


def test_a_level_above_the_sea_is_no_gauge_height(tmp_path):
    text = (DATA / "readings.json").read_text(encoding="utf-8")
    (tmp_path / "r.json").write_text(text.replace("m3_s", "mAOD"), encoding="utf-8")
    _, [fault], _ = read(tmp_path / "r.json")
    assert "neither flow nor stage" in fault


HEADS = {
    "flow_kcfs": 1000 * 0.3048**3,
    "Flow (kcfs)": 1000 * 0.3048**3,
    "discharge_cms": 1,
    "Discharge [m3/s]": 1,
    "streamflow (m3 s-1)": 1,
    "Q (l/s)": 0.001,
    "Discharge / Débit (cms)": 1,
}


@pytest.mark.parametrize("head", HEADS)
def test_units_in_the_heads_of_csv(head, tmp_path):
    text = f"valid_time,{head}\n2024-01-01T00:00Z,2\n2024-01-01T01:00Z,3\n"
    (tmp_path / "r.csv").write_text(text, encoding="utf-8")
    assert good(tmp_path / "r.csv").flow[0] == pytest.approx(2 * HEADS[head])


def model_file(path, *, ids, hour=1, run=0, units="m3 s-1", flows=None):
    """A channel file as the model's are laid out: packed whole numbers, one time."""
    with netCDF4.Dataset(path, "w") as file:
        file.createDimension("feature_id", len(ids))
        file.createDimension("time", 1)
        file.createDimension("reference_time", 1)
        for name, value in (("time", hour), ("reference_time", run)):
            made = file.createVariable(name, "i4", (name,))
            made.units = "minutes since 1970-01-01 00:00:00 UTC"
            made[:] = [(450_000 + value) * 60]
        file.createVariable("feature_id", "i8", ("feature_id",))[:] = ids
        flow = file.createVariable("streamflow", "i4", ("feature_id",), fill_value=-999900)
        flow.units, flow.scale_factor, flow.add_offset = units, np.float32(0.01), np.float32(0)
        flow.missing_value = np.int32(-999900)
        flow.set_auto_maskandscale(False)
        flow[:] = [100 * one + 50 for one in range(len(ids))] if flows is None else flows
    return path


def test_a_national_model_gives_the_flow_of_one_reach(tmp_path):
    path = model_file(tmp_path / "nwm.f001.nc", ids=[101, 179, 181])
    gauge, faults, _ = forecast_of(path, feature_id=179)
    assert not faults
    assert gauge.flow.tolist() == pytest.approx([1.5])
    assert gauge.times[0] == np.datetime64(450_001 * 3600, "s")


def test_a_models_forecast_is_no_record_and_its_analysis_is(tmp_path):
    ahead = model_file(tmp_path / "ahead.nc", ids=[101], hour=3)
    gauge, _, notes = read(ahead)
    assert gauge is None
    assert any("a forecast is no record" in note for note in notes)
    now = model_file(tmp_path / "now.nc", ids=[101], hour=0)
    assert good(now).flow.tolist() == pytest.approx([0.5])


def test_a_models_mark_for_none_is_a_gap(tmp_path):
    path = model_file(tmp_path / "m.nc", ids=[101, 102], hour=0, flows=[-999900, 200])
    gauge, _, _ = forecast_of(path, feature_id=101)
    assert gauge is not None
    assert np.isnan(gauge.flow).all()


ODD_MODELS = {
    "which": ({"ids": [101, 179]}, {}, "2 reaches and nothing says which is yours"),
    "absent": ({"ids": [101, 179]}, {"feature_id": 7}, "the reach 7 is not in it"),
    "unit": ({"ids": [101], "units": "mm"}, {}, "the unit of its streamflow, 'mm'"),
}


@pytest.mark.parametrize("case", ODD_MODELS)
def test_a_model_file_that_cannot_be_used_gives_its_message(case, tmp_path):
    made, note, wanted = ODD_MODELS[case]
    _, [fault], _ = forecast_of(model_file(tmp_path / "m.nc", **made), **note)
    assert wanted in fault


def test_a_cut_model_file_gives_one_message(tmp_path):
    whole = model_file(tmp_path / "m.nc", ids=list(range(1, 2000))).read_bytes()
    (tmp_path / "cut.nc").write_bytes(whole[: len(whole) // 3])
    _, [fault], _ = forecast_of(tmp_path / "cut.nc")
    assert "it cannot be read" in fault


ODD = {
    "list.json": ('{"primaryUnits": "ft", "validTime": 3, "observed": [1]}', "nothing is observed"),
    "iv.json": ('{"value": {"timeSeries": [3, {"variable": 1}]}}', "neither flow nor stage"),
    "station.json": ('{"features": [{"properties": null}], "STATION_NUMBER": 1}', "no row of it"),
    "items.json": ('{"items": [{"dateTime": 1, "measure": []}]}', "neither flow nor stage"),
    "cut.json": ('{"items": [{"dateTime": "2024", "measure": ', "not whole JSON"),
}


@pytest.mark.parametrize("name", ODD)
def test_answers_of_an_odd_shape_give_one_message(name, tmp_path):
    text, wanted = ODD[name]
    (tmp_path / name).write_text(text, encoding="utf-8")
    _, faults, _ = read(tmp_path / name)
    assert any(wanted in fault for fault in faults), faults


def test_a_models_files_hour_by_hour_are_one_forecast(tmp_path):
    for hour in (1, 2, 3):
        model_file(tmp_path / f"f{hour:03}.nc", ids=[101], hour=hour)
    (tmp_path / "notes.md").write_text("mine", encoding="utf-8")
    got = Gathered(tmp_path, tmp_path, read_plan("").plan, GaugeNote(), NOTHING, "", ())
    series = read_forecast(tmp_path, got)
    assert series.times.tolist() == [
        np.datetime64((450_000 + hour) * 3600, "s").item() for hour in (1, 2, 3)
    ]
