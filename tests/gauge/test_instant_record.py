"""The fall and the clarity law against what came on a public record every 15 minutes.

USGS 01191000, flow and turbidity, June 2016 to December 2022; source in data/README.md.
"""

import numpy as np
import pytest

from reachmap.gauge.hindcast import hindcast, members_of, skill
from reachmap.gauge.series import DAY, flow_on
from scripts.instant_backtest import clarity_told, notes_of, read_record, start_times

pytestmark = pytest.mark.table


@pytest.fixture(scope="module")
def record():
    return read_record()


@pytest.fixture(scope="module")
def tried(record):
    return hindcast(record[0])


def test_the_record_is_whole(record):
    flow, turbidity = record
    assert flow.times.size == 177_225
    assert flow.times[-1] == np.datetime64("2022-12-31T23:45")
    assert flow.flow[-1] == pytest.approx(0.7645548579840001)  # as the package prints it
    assert turbidity.flow.max() == 848


def test_within_a_day_the_fall_is_told_far_better_than_by_persistence(tried):
    for lead in range(5):
        dry = tried.dry[:, lead]
        assert skill(tried.errors[dry, lead], tried.persistence[dry, lead]) > 0.7
        # on a river this flashy rain overtakes most falls: of all that came it tells less
        assert skill(tried.errors[:, lead], tried.persistence[:, lead]) < 0


def test_odds_said_came_about_as_often(tried):
    said, came = [], []
    for at in range(0, tried.flow.size, 2):
        members = members_of(
            tried, float(tried.flow[at]), float(tried.fell[at]), int(tried.year_day[at]),
            without=int(tried.storm[at]),
        )  # fmt: skip
        assert members is not None
        if np.isfinite(tried.persistence[at, 2]):
            told = np.log(tried.forecast[at, 2] / tried.flow[at])
            said.append(float((told + members[:, 3] <= np.log(0.8)).mean()))
            came.append(float(tried.persistence[at, 2] <= np.log(0.8)))
    odds, true = np.array(said), np.array(came)
    for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8)):
        mine = (odds >= low) & (odds < high)
        assert mine.sum() > 30
        assert abs(odds[mine].mean() - true[mine].mean()) < 0.13


def test_clearing_told_by_other_storms_beats_persistence_while_it_stays_dry(record, tried):
    flow, turbidity = record
    times = start_times(flow, tried)
    notes = notes_of(flow, turbidity, times)
    leads = np.array([2, 3])
    told = clarity_told(tried, notes, leads, 0)
    now = np.array([note.clarity_m for note in notes])
    for column, lead in enumerate(leads.tolist()):
        came = 1 / flow_on(turbidity, times + lead * DAY)
        dry = tried.dry[:, lead - 1]
        gained = skill(np.log(came / told[:, column])[dry], np.log(came / now)[dry])
        assert gained > 0.35
