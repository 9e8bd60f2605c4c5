"""Gauges of flow near the box, by `dataretrieval` (US Geological Survey)."""

from __future__ import annotations

import math
import warnings
from typing import Any

import pandas as pd

from reachmap.gauge.fetch import FLOW_CODE, FetchError
from reachmap.gauge.fetch import fetch as fetch_gauge
from reachmap.online.box import Box
from reachmap.online.libraries import failures, library
from reachmap.online.model import (
    AskError,
    Fetching,
    Got,
    Kind,
    Offer,
    Service,
    Why,
    first_line,
)

HOST = "api.waterdata.usgs.gov"

LICENCE = "public domain (US federal work)"

AROUND_KM = 10.0
"""A gauge counts as near within this of the box [km] (our choice, 5-30): the asked box is wider by
so much."""

MOST = 20
"""Gauges listed at the most, nearest first (our choice)."""

RECORD_DAYS = 365
"""Days of record that are fetched (our choice): a season, its floods and its low water."""

COLUMNS = (
    "monitoring_location_id", "monitoring_location_name", "data_type", "begin", "end",
    "vertical_datum", "parameter_code",
)  # fmt: skip

CONTINUOUS = "Continuous values"

ERRORS = ("dataretrieval.exceptions.DataRetrievalError",)


def offers(box: Box) -> list[Offer]:
    """Return the gauges with readings of flow, nearest first.

    Raises
    ------
    AskError
        If the library is missing, the service does not answer, or there is none.
    """
    client = library("dataretrieval.waterdata")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            table, _ = client.get_combined_metadata(
                bbox=list(box.wider(AROUND_KM).bounds),
                parameter_code=FLOW_CODE,
                data_type=CONTINUOUS,
                properties=[*COLUMNS, "geometry"],
            )
            found = [_offer(row, box) for row in table.to_dict("records")]
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    named: dict[str, Offer] = {}
    for one in found:
        if one is not None and one.date >= getattr(named.get(one.name), "date", ""):
            named[one.name] = one
    if not named:
        raise AskError(Why.NOTHING_HERE)
    nearest = sorted(
        named.values(),
        key=lambda one: math.inf if math.isnan(one.distance_km) else one.distance_km,
    )
    return nearest[:MOST]


def fetch(offer: Offer, how: Fetching) -> Got:
    """Fetch a year of record and the rating in force into the folder's gauge/.

    Raises
    ------
    AskError
        If the service does not give them.
    """
    site = str(offer.ask["site"])
    before = {*(how.folder / "gauge").glob("*")}
    how.hear(0, 1)
    try:
        fetch_gauge(how.folder, site, days=RECORD_DAYS, today=how.today)
    except FetchError as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    how.hear(1, 1)
    now = {*(how.folder / "gauge").glob("*")}
    own = {one for one in now if one.name.startswith(f"{site}-flow")}
    return Got(offer, tuple(sorted((now - before) | own)), f"https://{HOST}/ogcapi")


def _offer(row: dict[str, Any], box: Box) -> Offer | None:
    """Return the offer that a series of readings makes; None where it names no gauge."""
    site = row.get("monitoring_location_id")
    if not isinstance(site, str) or row.get("parameter_code", FLOW_CODE) != FLOW_CODE:
        return None
    place = row.get("geometry")
    far = math.nan if place is None else box.distance_km(float(place.x), float(place.y))
    return Offer(
        f"gauge-{site.rpartition('-')[2]}", Kind.GAUGE, Service.GAUGES,
        str(row.get("monitoring_location_name") or site).title(), HOST,
        date=f"{_day(row.get('begin'))} to {_day(row.get('end'))}",
        vertical_datum=_text(row.get("vertical_datum")), licence=LICENCE, distance_km=far,
        ask={"site": site},
    )  # fmt: skip


def _text(value: object) -> str:
    """Return a cell as text; "" for none."""
    return value if isinstance(value, str) else ""


def _day(value: object) -> str:
    """Return a time's day, ISO; "?" for none."""
    if isinstance(value, str):
        return value[:10] or "?"
    return f"{value:%Y-%m-%d}" if isinstance(value, pd.Timestamp) and value == value else "?"
