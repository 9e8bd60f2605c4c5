"""`reachmap gauge`: what the files hold, a rating of one's own, and fetching without harm."""

from __future__ import annotations

import inspect
import socket
import sys
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from reachmap.base.errors import MarkupError
from reachmap.base.units import from_si, to_si
from reachmap.gauge.fetch import FetchError, fetch
from reachmap.gauge.stage_flow import flow_from_stage
from reachmap.markup.gauge_of_folder import checked_gauge, folder_gauge
from reachmap.reach.gauge import FITTED_NAME, fit_rating, keep_rating
from reachmap.text.gauge import gauge_lines, rating_fit_lines
from tests.cli.test_cli import run
from tests.markup.folders import make

TABLES = Path(__file__).resolve().parents[2] / "shared" / "tables"
DATA = Path(__file__).resolve().parents[1] / "gauge" / "data"
GAUGINGS = pd.read_csv(TABLES / "gaugings.csv", comment="#")
FITS = pd.read_csv(TABLES / "rating_fits.csv", comment="#").set_index("data_set")


def folder_of(tmp_path, name="", rows=None):
    """Return a US folder with real gaugings as its own measurements."""
    folder = tmp_path / "reach"
    (folder / "gauge").mkdir(parents=True)
    (folder / "reach.toml").write_text('format = 1\nname = "made"\nunits = "us"\n')
    if name:
        rows = GAUGINGS[GAUGINGS["data_set"] == name][["stage_ft", "flow_cfs"]]
    if rows is not None:
        table = rows.assign(time=pd.date_range("2001-01-01", periods=len(rows), tz="UTC"))
        table.to_csv(folder / "gauge" / "measured.csv", index=False)
    return folder


def fitted(folder, *, stages, keep):
    """Fit a rating, keep it where asked, and return the lines on it."""
    read = checked_gauge(folder)
    rating, number = fit_rating(read)
    if keep:
        keep_rating(folder, rating, read)
    return rating_fit_lines(rating, number, stages, read.units)


def shown(folder):
    return gauge_lines(checked_gauge(folder))


@pytest.mark.table
def test_a_rating_of_ones_own_is_fitted_kept_and_used(tmp_path):
    folder = folder_of(tmp_path, "co_channel")
    lines = fitted(folder, stages=[8.0, 30.0], keep=True)
    text = "\n".join(lines)
    printed = FITS.loc["co_channel"]
    assert f"({'stage'} - {printed['e']:.2f})^{printed['b']:.2f} cfs" in text
    assert "at 30 ft: not told, beyond your measurements" in text
    # the kept file is the gauge's rating from then on: the printed power law at a stage in between
    gauge = folder_gauge(folder).gauge
    got = from_si(float(flow_from_stage(gauge.segments, to_si(np.array([8.0]), "ft"))[0]), "cfs")
    assert got == pytest.approx(printed["a"] * (8.0 - printed["e"]) ** printed["b"], rel=2e-3)
    beyond = to_si(np.array([5.4, 21.0]), "ft")
    assert np.isnan(flow_from_stage(gauge.segments, beyond)).all()
    assert "at 8 ft: " in text
    assert "with 90 % between" in text
    kept = (folder / "gauge" / FITTED_NAME).read_bytes()
    assert "Nothing was written" in run("gauge", folder, "fit").stdout
    assert (folder / "gauge" / FITTED_NAME).read_bytes() == kept
    assert f"Wrote {folder / 'gauge' / FITTED_NAME}" in run("gauge", folder, "fit", "--keep").stdout


def test_a_second_fit_takes_the_place_of_the_first(tmp_path):
    folder = folder_of(tmp_path, "provo_natural")
    fitted(folder, stages=[], keep=True)
    first = (folder / "gauge" / FITTED_NAME).read_text()
    fitted(folder, stages=[], keep=True)
    assert (folder / "gauge" / FITTED_NAME).read_text() == first


def test_a_fitted_rating_never_displaces_another(tmp_path):
    folder = folder_of(tmp_path, "co_channel")
    (folder / "gauge" / "official.rdb").write_bytes((DATA / "rating_base.rdb").read_bytes())
    with pytest.raises(MarkupError, match="has a rating already"):
        fitted(folder, stages=[], keep=True)
    assert not (folder / "gauge" / FITTED_NAME).exists()


def test_too_few_measurements_are_refused(tmp_path):
    rows = pd.DataFrame({"stage_ft": [1, 2, 3, 4.0], "flow_cfs": [10, 40, 90, 160.0]})
    with pytest.raises(MarkupError, match="4 measurements with a stage and a flow, wants 5"):
        fitted(folder_of(tmp_path, rows=rows), stages=[], keep=True)


def test_a_curve_at_its_limit_is_kept_and_says_which_and_what_that_means(tmp_path):
    stage = np.linspace(1, 4, 9)
    rows = pd.DataFrame({"stage_ft": stage, "flow_cfs": 50 * stage**5})  # steeper than 4
    folder = folder_of(tmp_path, rows=rows)
    told = "\n".join(fitted(folder, stages=[2.0], keep=True))
    assert "The exponent stands at the highest it may be, 4: flow rises more steeply" in told
    assert "its band is wider" in told
    kept = (folder / "gauge" / FITTED_NAME).read_text()
    assert "# The exponent stands at the highest it may be, 4" in kept
    assert "Rating: " in "\n".join(shown(folder))


def test_measurements_that_lie_far_from_any_curve_are_refused_with_their_scatter(tmp_path):
    stage = np.linspace(1, 4, 9)
    flow = 50 * stage**2 * np.where(np.arange(9) % 2, 4.0, 0.25)
    folder = folder_of(tmp_path, rows=pd.DataFrame({"stage_ft": stage, "flow_cfs": flow}))
    with pytest.raises(MarkupError, match="scatter about its curve by"):
        fitted(folder, stages=[], keep=True)
    assert not (folder / "gauge" / FITTED_NAME).exists()


def test_what_the_files_hold_is_told(tmp_path):
    folder = folder_of(tmp_path)
    assert "No gauge yet" in shown(folder)[0]
    for name in ("rating_base.rdb", "measurements.rdb"):
        (folder / "gauge" / name).write_bytes((DATA / name).read_bytes())
    text = "\n".join(shown(folder))
    assert "Rating: 30 cfs to 31,100 cfs in 1 piece." in text
    assert "Measurements: " in text
    assert "% from the rating" in text
    done = run("gauge", make(tmp_path / "other"))
    assert done.returncode == 0, done.stderr
    assert "Record: " in done.stdout


class Fake:
    """A client that answers from memory, as the library does."""

    def __init__(self, values=(100.0, None, 104.0), unit="ft^3/s", rating=True):
        self.values, self.unit, self.rating, self.asked = values, unit, rating, []

    def get_continuous(self, **asked):
        self.asked.append(asked)
        begin = pd.Timestamp(asked["time"].split("/")[0])
        times = [begin + pd.Timedelta(minutes=15 * n) for n in range(len(self.values))]
        frame = pd.DataFrame({"time": times, "value": self.values, "unit_of_measure": self.unit})
        return frame, None

    def get_ratings(self, **asked):
        if self.rating:
            target = Path(asked["file_path"]) / f"{asked['monitoring_location_id']}.exsa.rdb"
            target.write_bytes((DATA / "rating_exsa.rdb").read_bytes())
        return {}


TODAY = datetime(2024, 1, 31, tzinfo=UTC)


def test_a_fetched_record_and_rating_are_read_like_any_file(tmp_path):
    folder, client = folder_of(tmp_path), Fake()
    lines = fetch(folder, "01594440", days=30, today=TODAY, client=client)
    assert client.asked[0]["monitoring_location_id"] == "USGS-01594440"
    assert "3 readings" in lines[0]
    gauge = folder_gauge(folder).gauge
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [100, np.nan, 104])
    assert str(gauge.times[0]) == "2024-01-01T00:00:00"
    assert gauge.segments
    again = fetch(folder, "01594440", days=29, today=TODAY, client=Fake(values=(7.0,)))
    assert "4 readings" in again[0]  # what was fetched before stays
    assert folder_gauge(folder).gauge.flow.size == 4


def test_a_long_record_is_asked_for_in_parts(tmp_path):
    client = Fake()
    fetch(folder_of(tmp_path), "USGS-01594440", days=2500, today=TODAY, client=client)
    spans = [tuple(asked["time"].split("/")) for asked in client.asked]
    assert len(spans) == 3
    assert all(first[1] == second[0] for first, second in pairwise(spans))


@pytest.mark.parametrize(
    ("client", "word"),
    [
        (Fake(values=(), rating=False), "no flow in the last 30 days"),
        (Fake(unit="m^3/s"), "not ft"),
    ],
)
def test_nothing_useful_leaves_nothing(tmp_path, client, word):
    folder = folder_of(tmp_path)
    with pytest.raises(FetchError, match=word):
        fetch(folder, "01594440", days=30, today=TODAY, client=client)
    assert list((folder / "gauge").iterdir()) == []


def test_a_fetch_that_breaks_half_way_writes_nothing(tmp_path):
    class Broken(Fake):
        def get_ratings(self, **_asked):
            msg = "the line went down\nand more"
            raise ConnectionError(msg)

    folder = folder_of(tmp_path)
    with pytest.raises(FetchError, match=r"cannot be fetched \(the line went down\)"):
        fetch(folder, "01594440", days=30, today=TODAY, client=Broken())
    assert list((folder / "gauge").iterdir()) == []


@pytest.mark.parametrize("site", ["", "abc", "1", "../../etc", "01594440; rm"])
def test_what_is_no_number_is_refused_before_anything_is_asked(tmp_path, site):
    with pytest.raises(FetchError, match="no gauge's number"):
        fetch(folder_of(tmp_path), site, days=30, today=TODAY, client=Fake())


def test_without_a_network_it_says_so_and_writes_nothing(tmp_path, monkeypatch):
    pytest.importorskip("dataretrieval")

    def blocked(*_args, **_more):
        msg = "no network here"
        raise OSError(msg)

    monkeypatch.setattr(socket.socket, "connect", blocked)
    monkeypatch.setattr(socket, "getaddrinfo", blocked)
    folder = folder_of(tmp_path)
    with pytest.raises(FetchError, match="cannot be fetched"):
        fetch(folder, "01594440", days=30, today=TODAY)
    assert list((folder / "gauge").iterdir()) == []


def test_what_is_asked_of_the_client_is_what_the_library_takes(tmp_path):
    library = pytest.importorskip("dataretrieval.waterdata")

    class Signed(Fake):
        def get_continuous(self, **asked):
            inspect.signature(library.get_continuous).bind(**asked)
            return super().get_continuous(**asked)

        def get_ratings(self, **asked):
            inspect.signature(library.get_ratings).bind(**asked)
            return super().get_ratings(**asked)

    assert fetch(folder_of(tmp_path), "01594440", days=30, today=TODAY, client=Signed())


def test_without_the_library_it_says_how_to_get_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "dataretrieval.waterdata", None)
    with pytest.raises(FetchError, match=r"pip install 'reachmap\[online\]'"):
        fetch(folder_of(tmp_path), "01594440", days=30, today=TODAY)


def test_the_command_refuses_with_exit_code_2(tmp_path):
    folder = folder_of(tmp_path)
    done = run("gauge", folder, "fetch", "--site", "x")
    assert done.returncode == 2
    assert "no gauge's number" in done.stderr
    done = run("gauge", folder, "fit", "--keep")
    assert done.returncode == 2
    assert "0 measurements" in done.stderr
