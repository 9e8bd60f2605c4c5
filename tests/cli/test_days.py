"""`reachmap days` on the sample's storm and on a small folder: from files to page and calendar."""

from __future__ import annotations

import json
import math
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from icalendar import Calendar
from rich.console import Console
from typer.testing import CliRunner

from reachmap.base.errors import MarkupError
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.cli.app import app
from reachmap.cli.typed import typed_celsius, typed_time, typed_zone
from reachmap.gauge.series import NOTHING
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE
from reachmap.markup import read_markup
from reachmap.outputs.days_page.write import write_days
from reachmap.pipeline.days import gather
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options
from reachmap.planner.freshness import Phase
from reachmap.planner.outlook import CODES, Source
from reachmap.reach.days import DaysAsked, _end_of_invented, coming_days
from reachmap.text.days import day_name
from reachmap.text.days_table import days_shown
from tests.logbook.made import keep_all

SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"
FLOWS_CFS = (900, 1300, 1800, 2400, 3200, 5400)
QUICK = Options(
    quick=True, cell=4.0, ensemble=False, flows=tuple(to_si(float(q), "cfs") for q in FLOWS_CFS)
)
PEAK_PASSED = datetime(2030, 1, 12, 8)  # noqa: DTZ001 - on the clock of the place
LATER = datetime(2030, 1, 26, 16)  # noqa: DTZ001


@pytest.fixture(scope="module")
def river(tmp_path_factory):
    folder = tmp_path_factory.mktemp("home") / "river"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("written"))
    build_reach(read_markup(folder), folder / "written", QUICK)
    return folder


def flow_on_day(day):
    return float(np.median(day.hours.flow))


@pytest.mark.compiled
def test_after_the_sample_s_storm_the_day_it_has_cleared_is_named_and_the_page_says_why(river):
    found = coming_days(river, None, DaysAsked(now=PEAK_PASSED, days=5))
    assert found.best is not None
    # right after the peak the river is high and coloured; then come the first days in shape
    assert found.best >= 2
    assert found.days[found.best].phase is Phase.FRESH
    scores = [day.score for day in found.days]
    assert scores[0] == min(scores)
    seen = [day.hours.clarity[0].metres for day in found.days]
    assert seen == sorted(seen)
    best = found.days[found.best]
    page = write_days(found, UnitSystem.US, river / "written")[0].read_text(encoding="utf-8")
    assert day_name(best) in page
    assert "coloured, and that takes some of the score" in page
    assert "in shape behind the rise" in page
    assert "Nobody looked up the rules" in page
    assert "notes on the falling limb" in page
    assert "as the river falls if no rain comes" in page.lower()
    # its runs are those whose table is high at that flow
    rows = json.loads((river / "written" / "report.json").read_text())["runs_by_flow"]
    flow = flow_on_day(best)
    near = min({row["flow"] for row in rows}, key=lambda q: abs(math.log(q / flow)))
    shape = {row["run"] for row in rows if row["flow"] == near and row["in_shape"]}
    picks = [pick.run.facts.name for pick in found.plans[found.best].picks]
    assert picks
    assert set(picks) <= shape
    for name in picks:
        assert name in page


@pytest.mark.compiled
def test_the_days_the_storm_foretold_came_within_their_band(river):
    found = coming_days(river, None, DaysAsked(now=PEAK_PASSED, days=5))
    record = gather(river, river / "written").record
    ahead = found.outlook.source == CODES[Source.FALL]
    true = np.interp(
        found.outlook.times[ahead].astype(float),
        record.known.times.astype(float),
        record.known.flow,
    )
    inside = (found.outlook.low[ahead] <= true) & (true <= found.outlook.high[ahead])
    dry = found.outlook.times[ahead] < np.datetime64("2030-01-19T06:00")  # then it rained again
    assert inside[dry].mean() > 0.8


@pytest.mark.compiled
def test_on_the_rise_no_day_is_named_without_a_forecast(river, tmp_path):
    rising = DaysAsked(now=datetime(2030, 1, 10, 12, tzinfo=UTC), days=3)
    found = coming_days(river, None, rising)
    assert found.best is None or found.best == 0
    assert all(math.isnan(day.score) for day in found.days[1:])
    forecast = tmp_path / "next.csv"
    rows = [f"2030-01-1{d}T00:00Z,{q}" for d, q in ((1, 5800), (2, 3500), (3, 2300), (4, 1800))]
    forecast.write_text("time,flow_cfs\n" + "\n".join(rows), encoding="utf-8")
    told = coming_days(river, None, DaysAsked(now=rising.now, days=3, forecast=forecast))
    assert told.best is not None
    assert set(told.days[1].hours.source.tolist()) == {CODES[Source.FORECAST]}


@pytest.mark.compiled
def test_a_forecast_of_stages_goes_through_the_folder_s_rating(river, tmp_path):
    forecast = tmp_path / "stage.csv"
    forecast.write_text(
        "time,stage_ft\n2030-01-12T09:00Z,5.0\n2030-01-14T00:00Z,5.0\n", encoding="utf-8"
    )
    told = coming_days(
        river, None, DaysAsked(now=datetime(2030, 1, 12, 8, tzinfo=UTC), forecast=forecast, days=1)
    )
    coming = told.outlook.source == CODES[Source.FORECAST]
    assert coming.any()
    rating = read_markup(river).gauge
    assert rating is not None
    piece = rating.segments[0]
    want = float(np.interp(to_si(5.0, "ft"), piece.stage_m, piece.flow))
    got = told.outlook.flow[coming]
    assert float(np.nanmin(np.abs(got / want - 1))) < 0.03


@pytest.mark.compiled
def test_the_log_s_clarity_counts_as_notes(river, tmp_path):
    folder = tmp_path / "river"
    shutil.copytree(river, folder)
    (folder / "clarity.csv").unlink()
    plain = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, days=2))
    assert math.isnan(plain.days[1].hours.clarity[0].metres)
    keep_all(
        folder / FILE,
        [
            Entry(when=np.datetime64(f"2029-12-0{n + 1}T18:00:00").astype(object).replace(
                tzinfo=plain.zone), flow=flow, clarity_m=30.0 / flow)
            for n, flow in enumerate((30.0, 50.0, 70.0, 100.0))
        ],
    )  # fmt: skip
    logged = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, days=2))
    flow = float(logged.days[1].hours.flow[0])
    assert logged.days[1].hours.clarity[0].metres == pytest.approx(30.0 / flow, rel=0.02)
    assert logged.water is None
    when = datetime(2030, 1, 11, 17, tzinfo=UTC)
    keep_all(folder / FILE, [Entry(when=when, water_c=6.5)])
    read = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, days=2)).water
    assert read is not None
    assert float(read.at(np.array([np.datetime64("2030-01-11T17:00:00")]))[0]) == pytest.approx(6.5)
    warm = typed_celsius(50.0, UnitSystem.US)
    typed = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, water_c=warm))
    assert typed.water is not None
    assert typed.water.readings == 2


@pytest.mark.compiled
def test_rules_tides_and_own_bands_of_the_folder_count(river, tmp_path):
    folder = tmp_path / "river"
    shutil.copytree(river, folder)
    plain = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, days=6))
    assert plain.best is not None
    best = plain.days[plain.best].light.day
    (folder / "rules.csv").write_text(
        f"from,to,rule,source,checked\n{best},{best},closed,notice board,2030-01-02\n", "utf-8"
    )
    (folder / "tide.csv").write_text(
        "time,height_ft\n2030-01-12T00:00,1\n2030-01-12T06:00,7\n", "utf-8"
    )
    with (folder / "temperature.csv").open("w", encoding="utf-8") as stream:
        stream.write("time,water_f\n2030-01-12T07:00,41\n")
    ruled = coming_days(folder, None, DaysAsked(now=PEAK_PASSED, days=6))
    assert ruled.best is not None
    assert ruled.days[ruled.best].light.day != best
    assert ruled.days[plain.best].closed
    assert not ruled.plans[plain.best].picks
    assert ruled.tide is not None
    assert ruled.water is not None
    page = write_days(ruled, UnitSystem.US, folder / "written")[0].read_text(encoding="utf-8")
    assert "Closed by the rules" in page
    assert "Rules looked up 10 days ago." in page
    (folder / "rules.csv").write_text("from,to,rule\nsoon,later,perhaps\n", "utf-8")
    with pytest.raises(MarkupError, match="rule is 'perhaps'"):
        coming_days(folder, None, DaysAsked(now=PEAK_PASSED))


@pytest.mark.compiled
def test_several_forecasts_are_members_of_one(river, tmp_path):
    paths = []
    for number, flow in enumerate((2300, 2400, 9000)):
        path = tmp_path / f"member{number}.csv"
        path.write_text(
            f"time,flow_cfs\n2030-01-12T18:00Z,2900\n2030-01-14T00:00Z,{flow}\n"
            f"2030-01-15T06:00Z,{flow}\n2030-01-16T00:00Z,{flow}\n", "utf-8",
        )  # fmt: skip
        paths.append(path)
    asked = DaysAsked(now=PEAK_PASSED, days=3, forecast=paths[0], ensemble=paths[1:])
    found = coming_days(river, None, asked)
    assert found.days[2].odds.tries == 3
    assert found.days[2].odds.hits == 2  # the third rises beyond what is mapped


@pytest.mark.compiled
def test_a_new_reading_needs_no_new_build(river, tmp_path):
    folder = tmp_path / "river"
    shutil.copytree(river, folder)
    coming_days(folder, None, DaysAsked(now=PEAK_PASSED))
    made = sorted((folder / "written" / "cache").glob("facts-*.json"))
    with (folder / "gauge" / "flow.csv").open("a", encoding="utf-8") as stream:
        stream.write("2030-01-27T00:00Z,960\n")
    found = coming_days(folder, None, DaysAsked(now=LATER))
    assert found.outlook.last == np.datetime64("2030-01-27T00:00")
    assert sorted((folder / "written" / "cache").glob("facts-*.json")) == made


@pytest.mark.compiled
def test_the_command_prints_a_table_and_writes_page_and_calendar(river):
    words = [
        "days",
        str(river),
        "--now",
        f"{PEAK_PASSED:%Y-%m-%dT%H:%M}",
        "--water-temp",
        "41",
        "--days",
        "3",
    ]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    for part in ("days.html", "days.ics", "best", "41 °F", "People drown wading"):
        assert part in done.output
    calendar = Calendar.from_ical((river / "written" / "days.ics").read_bytes())
    assert calendar.walk("VEVENT")


@pytest.mark.compiled
def test_the_table_fits_a_narrow_terminal(river):
    found = coming_days(river, None, DaysAsked(now=PEAK_PASSED, days=2))
    console = Console(width=60, record=True, highlight=False)
    with console.capture() as held:
        console.print(days_shown(found, UnitSystem.US))
    assert max(len(line) for line in held.get().splitlines()) <= 60


@pytest.mark.parametrize(
    ("read", "word", "found"),
    [
        (typed_time, "yesterday", "is not a time"),
        (typed_zone, "Nowhere/At_All", "is no time zone"),
        (lambda word: typed_celsius(float(word), UnitSystem.US), "400", "is no water"),
    ],
)
def test_words_that_make_no_sense_are_told(read, word, found):
    with pytest.raises(MarkupError, match=found):
        read(word)


def test_a_number_of_days_out_of_range_is_refused():
    for days in (0, 15):
        with pytest.raises(ValueError, match="wants 1 to 14"):
            DaysAsked(days)


def test_a_folder_that_is_none_is_told(tmp_path):
    with pytest.raises(MarkupError, match=r"holds no reach\.toml"):
        coming_days(tmp_path, None, DaysAsked())


@pytest.mark.compiled
def test_a_forecast_without_flow_is_told(river, tmp_path):
    path = tmp_path / "none.csv"
    path.write_text("time,flow_cfs\n2030-01-13T00:00Z,\n", encoding="utf-8")
    with pytest.raises(MarkupError, match="holds no flow"):
        coming_days(river, None, DaysAsked(now=PEAK_PASSED, forecast=path))


def test_the_record_of_an_invented_river_ends_today_and_that_is_said(river):
    found = coming_days(river, None, DaysAsked(days=2))
    (told,) = [one for one in found.remarks if "counts as today" in one]
    last = gather(river, river / "written").record.known.times[-1]
    assert str(last)[:10] in told
    assert not any("later than now" in one for one in found.remarks)


def test_the_record_of_a_real_river_does_not(river):
    got = gather(river, river / "written")
    assert _end_of_invented(got) is not None
    real = replace(got, plan=replace(got.plan, name="My river"))
    assert _end_of_invented(real) is None
    assert _end_of_invented(replace(got, record=NOTHING)) is None
