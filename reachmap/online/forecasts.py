"""Forecasts of stage and flow near the box: the US National Water Prediction Service.

`dataretrieval` has no forecasts; this open interface needs no key and no library of its own. What
it sends is kept as it came and read by `gauge/stageflow_json.py`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any

from reachmap.base.cache import write_aside
from reachmap.online.box import Box
from reachmap.online.free_names import free_name
from reachmap.online.gauges import AROUND_KM
from reachmap.online.http import get_json
from reachmap.online.model import AskError, Fetching, Got, Kind, Offer, Service, Why

HOST = "api.water.noaa.gov"
BASE = f"https://{HOST}/nwps/v1"

LICENCE = "public domain (US federal work)"

NO_FORECAST = frozenset({"", "fcst_not_current", "not_defined"})
"""Words of a gauge's forecast that say there is none now."""

MOST = 20
"""Forecast points listed at the most, nearest first (our choice)."""


def offers(box: Box) -> list[Offer]:
    """Return the points with a forecast in force, nearest first.

    Raises
    ------
    AskError
        If the library is missing, the service does not answer, or there is none.
    """
    west, south, east, north = box.wider(AROUND_KM).bounds
    asked = {
        "bbox.xmin": west, "bbox.ymin": south, "bbox.xmax": east, "bbox.ymax": north,
        "srid": "EPSG_4326",
    }  # fmt: skip
    told = get_json(f"{BASE}/gauges", asked)
    gauges = told.get("gauges") if isinstance(told, dict) else None
    found = [_offer(one, box) for one in gauges or [] if isinstance(one, dict)]
    known = [one for one in found if one is not None]
    if not known:
        raise AskError(Why.NOTHING_HERE)
    far = {one.name: one.distance_km for one in known}
    return sorted(known, key=lambda one: math.inf if math.isnan(far[one.name]) else far[one.name])[
        :MOST
    ]


def fetch(offer: Offer, how: Fetching) -> Got:
    """Keep the forecast of a point beside the drawing, for --forecast.

    Raises
    ------
    AskError
        If the service does not give it.
    """
    how.hear(0, 1)
    address = f"{BASE}/gauges/{offer.ask['lid']}/stageflow"
    told = get_json(address, {})
    forecast = told.get("forecast") if isinstance(told, dict) else None
    if not isinstance(forecast, dict) or not forecast.get("data"):
        raise AskError(Why.NOTHING_HERE)
    text = json.dumps(told, indent=1) + "\n"
    target = free_name(how.folder, f"{offer.name}.json")
    write_aside(target, lambda aside: aside.write_text(text, encoding="utf-8"))
    how.hear(1, 1)
    return Got(offer, (target,), address)


def _offer(one: Mapping[str, Any], box: Box) -> Offer | None:
    """Return the offer of a gauge; None where no forecast is in force."""
    lid = str(one.get("lid") or "")
    status = one.get("status")
    forecast = status.get("forecast") if isinstance(status, dict) else None
    state = str(forecast.get("floodCategory") or "") if isinstance(forecast, dict) else ""
    if not re.fullmatch(r"[A-Za-z0-9]{3,10}", lid) or state in NO_FORECAST:
        return None
    place = one.get("longitude"), one.get("latitude")
    known = all(isinstance(value, (int, float)) for value in place)
    return Offer(
        f"forecast-{lid.lower()}", Kind.FORECAST, Service.FORECASTS,
        str(one.get("name") or lid)[:120], HOST,
        date=str((forecast or {}).get("validTime") or "")[:16],
        licence=LICENCE,
        distance_km=box.distance_km(*map(float, place)) if known else math.nan,  # type: ignore[arg-type]
        ask={"lid": lid},
    )  # fmt: skip
