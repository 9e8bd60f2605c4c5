"""Download of a gauge's record and rating with the official client library, on request only."""

from __future__ import annotations

import importlib
import re
import shutil
import tempfile
import warnings
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Protocol

import pandas as pd

from reachmap.base.cache import write_aside
from reachmap.base.csv_cells import escaped_cell
from reachmap.base.errors import Fault, ReachmapError

FLOW_CODE = "00060"
"""Parameter code of discharge, cubic feet per second."""

UNIT = "ft^3/s"
"""What the service calls its unit."""

LONGEST_DAYS = 1000
"""Longest span of one request [d]: the service gives at most three years a call."""

COLUMNS = ("time", "value", "unit_of_measure")


class FetchError(ReachmapError):
    """The gauge cannot be fetched; nothing was written."""

    def __init__(self, fault: Fault) -> None:
        """Keep the request, the failure and the remedy as the message."""
        super().__init__(str(fault))


class Client(Protocol):
    """The part of the client library `dataretrieval.waterdata` that is used."""

    def get_continuous(self, **query: Any) -> tuple[pd.DataFrame, Any]:
        """Return readings and the metadata of the response."""
        ...

    def get_ratings(self, **query: Any) -> Any:
        """Write rating files into the folder `file_path`."""
        ...


def fetch(
    folder: Path, site: str, *, days: int, today: datetime, client: Client | None = None
) -> list[str]:
    """Fetch a record of flow and the rating in force into DIR/gauge; return lines for the user.

    All of it is fetched before any of it is written; readings fetched earlier stay.

    Parameters
    ----------
    folder
        The reach folder.
    site
        The gauge's number, with its agency before it where that is not USGS.
    days
        Days of record before `today`.
    today
        UTC.
    client
        Client of the service; the library if not given.

    Raises
    ------
    FetchError
        If the library is not installed, the number is none, or the service cannot be reached or
        has nothing.
    """
    if not re.fullmatch(r"(?:[A-Za-z]{2,8}-)?\d{8,15}", site):
        fix = "Give it like --site 01594440; it stands on the gauge's page"
        raise FetchError(Fault("--site", f"{site!r} is no gauge's number", fix))
    name = site.upper() if "-" in site else f"USGS-{site}"
    service = client or _library()
    with tempfile.TemporaryDirectory() as aside:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                readings = _readings(service, name, today - timedelta(days=days), today)
                service.get_ratings(monitoring_location_id=name, file_type="exsa", file_path=aside)
        except _failures() as error:
            fix = "Try again with a network, or put a file you have into DIR/gauge"
            raise FetchError(
                Fault(name, f"it cannot be fetched ({_first_line(error)})", fix)
            ) from None
        ratings = sorted(Path(aside).rglob("*.rdb"))
        if not len(readings) and not ratings:
            fix = "See on the gauge's page whether it measures flow, and since when"
            raise FetchError(Fault(name, f"no flow in the last {days} days", fix))
        return _written(folder / "gauge", name, readings, ratings)


def _library() -> Client:
    """Return the client library."""
    try:
        library: Client = importlib.import_module("dataretrieval.waterdata")
    except ImportError:
        fix = "Run: pip install 'reachmap[online]'. Files you put into DIR/gauge need none of it"
        raise FetchError(Fault("fetch", "the client library is not installed", fix)) from None
    return library


def _failures() -> tuple[type[Exception], ...]:
    """Return the exceptions the library raises where it cannot fetch."""
    usual: tuple[type[Exception], ...] = (OSError, ValueError, RuntimeError, KeyError, TypeError)
    try:
        exceptions = importlib.import_module("dataretrieval.exceptions")
    except ImportError:
        return usual
    return (*usual, exceptions.DataRetrievalError)


def _readings(client: Client, name: str, begin: datetime, end: datetime) -> pd.DataFrame:
    """Return time and flow [cfs] from the service, ascending in time, without duplicates."""
    parts = []
    while begin < end:
        until = min(begin + timedelta(days=LONGEST_DAYS), end)
        frame, _ = client.get_continuous(
            monitoring_location_id=name,
            parameter_code=FLOW_CODE,
            time=f"{begin:%Y-%m-%dT%H:%M:%SZ}/{until:%Y-%m-%dT%H:%M:%SZ}",
            properties=list(COLUMNS),
        )
        if len(frame):
            if set(frame["unit_of_measure"].dropna()) - {UNIT}:
                msg = f"its flow is in {frame['unit_of_measure'].iloc[0]}, not {UNIT}"
                raise ValueError(msg)
            parts.append(frame)
        begin = until
    if not parts:
        return _tidy(pd.DataFrame({"time": [], "flow_cfs": []}))
    whole = pd.concat(parts, ignore_index=True)
    return _tidy(pd.DataFrame({"time": whole["time"], "flow_cfs": whole["value"]}))


def _tidy(frame: pd.DataFrame) -> pd.DataFrame:
    """Return readings with ascending UTC times; of duplicates the later row is kept."""
    times = pd.to_datetime(frame["time"], utc=True)
    flow = pd.to_numeric(frame["flow_cfs"], errors="coerce")
    tidy = pd.DataFrame({"time": times, "flow_cfs": flow}).dropna(subset=["time"])
    return tidy.drop_duplicates("time", keep="last").sort_values("time", ignore_index=True)


def _written(folder: Path, name: str, readings: pd.DataFrame, ratings: list[Path]) -> list[str]:
    """Write the downloaded files; return lines for the user."""
    folder.mkdir(exist_ok=True)
    lines = []
    if len(readings):
        path = folder / f"{name}-flow.csv"
        if path.is_file():
            readings = _tidy(pd.concat([pd.read_csv(path, comment="#"), readings]))
        head = f"# {name}: discharge from the U.S. Geological Survey, provisional until approved.\n"
        times = readings["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ").map(escaped_cell)
        table = readings.assign(time=times)
        text = head + table.to_csv(index=False, lineterminator="\n")
        write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8", newline="\n"))
        first, last = table["time"].iloc[0], table["time"].iloc[-1]
        lines.append(f"Wrote {path}: {len(readings)} readings, {first} to {last}.")
    for rating in ratings:
        target = folder / rating.name
        write_aside(target, partial(shutil.copyfile, rating))
        lines.append(f"Wrote {target}: the rating in force.")
    if not ratings:
        lines.append("The service publishes no rating for it.")
    return [*lines, "Newest readings are provisional. Nothing else asks the network."]


def _first_line(error: Exception) -> str:
    """Return an error's message as one line, cut to a readable length."""
    text = str(error).strip() or type(error).__name__
    return text.splitlines()[0][:200]
