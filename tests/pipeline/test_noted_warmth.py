"""The water's temperature moves the lies of a map: as asked, by reach.toml, by the record."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.config import read_plan
from reachmap.markup.found import input_files
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.water.lie_warmth import WarmthFrom
from tests.markup.folders import TOML, make

RECORD = "time,flow_m3s\n2030-01-12T10:00Z,30\n2030-01-12T12:00Z,31\n"


def readings(day="12", celsius=2.2):
    """Return a record of the water's temperature: one reading that day."""
    return f"time,water_c\n2030-01-{day}T08:00Z,{celsius}\n"


@pytest.fixture
def folder(tmp_path):
    """Return a reach folder with a record of its flow."""
    made = make(tmp_path)
    (made / "gauge").mkdir(exist_ok=True)
    (made / "gauge" / "flow.csv").write_text(RECORD, encoding="utf-8")
    return made


def lies(folder, **options):
    """Return the most speed near the bed at a lie, and the temperature behind it."""
    told = settings_for(read_markup(folder), Options(**options))
    return told.water.lies.limits.speed_high_m_s, told.warmth


def test_without_a_temperature_nothing_changes(folder):
    speed, warmth = lies(folder)
    assert (speed, warmth) == (0.45, None)


def test_the_folders_record_counts_while_it_is_fresh(folder):
    path = folder / "temperature.csv"
    path.write_text(readings(), encoding="utf-8")
    speed, warmth = lies(folder)
    assert speed < 0.45
    assert (warmth.celsius, warmth.origin) == (2.0, WarmthFrom.READINGS)
    assert warmth.when == np.datetime64("2030-01-12T08:00")
    assert path in input_files(folder)  # so that a build notices it
    path.write_text(readings(day="02"), encoding="utf-8")
    assert lies(folder) == (0.45, None)


def test_what_is_asked_counts_before_reach_toml_and_that_before_the_record(folder):
    (folder / "temperature.csv").write_text(readings(), encoding="utf-8")
    toml = folder / "reach.toml"
    said = toml.read_text(encoding="utf-8").replace("[season]", '[season]\nwater_temp = "46.4 F"')
    toml.write_text(said, encoding="utf-8")
    speed, warmth = lies(folder)
    assert speed > 0.45
    assert (warmth.celsius, warmth.origin) == (pytest.approx(8.0), WarmthFrom.FOLDER)
    speed, warmth = lies(folder, water_c=1.0)
    assert speed < 0.45
    assert (warmth.celsius, warmth.origin) == (1.0, WarmthFrom.ASKED)


def test_swing_water_and_wading_do_not_hang_on_it(folder):
    cold, usual = (settings_for(read_markup(folder), Options(water_c=one)) for one in (1.0, None))
    assert cold.water.limits == usual.water.limits
    assert cold.angler == usual.angler


def test_a_reading_that_is_none_is_a_fault(folder):
    (folder / "temperature.csv").write_text(readings(celsius=77), encoding="utf-8")
    with pytest.raises(MarkupError, match="no river's"):
        lies(folder)


@pytest.mark.parametrize(
    ("written", "celsius"), [("5", 5.0), ('"41 F"', 5.0), ('"5.5 C"', 5.5), ('"-1°C"', -1.0)]
)
def test_a_temperature_is_read_in_either_unit(written, celsius):
    read = read_plan(TOML.replace("[season]", f"[season]\nwater_temp = {written}"))
    assert not read.faults
    assert read.plan.water_c == pytest.approx(celsius)


def test_a_plain_number_is_of_the_folders_units():
    text = TOML.replace('"metric"', '"us"').replace("[season]", "[season]\nwater_temp = 41")
    assert read_plan(text).plan.water_c == pytest.approx(5.0)


@pytest.mark.parametrize("written", ['"cold"', "true", "60", '"120 F"', '"5 K"'])
def test_what_is_no_temperature_of_water_is_a_fault(written):
    read = read_plan(TOML.replace("[season]", f"[season]\nwater_temp = {written}"))
    assert any("[season] water_temp" in str(fault) for fault in read.faults)
