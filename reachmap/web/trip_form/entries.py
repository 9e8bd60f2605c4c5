"""Log entries as form values: text in the folder's units that goes back into the fields."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from reachmap.base.units import (
    FLOW,
    LENGTH,
    SPEED,
    TEMPERATURE,
    flow_words,
    from_celsius,
    from_si,
)
from reachmap.base.words import UnitSystem
from reachmap.logbook.model import Entry, Seen, SeenKind, new_id
from reachmap.text.log import touches_words
from reachmap.web.trip_form.typed import SEEN

ROWS = 3
"""Empty rows for what was seen on a fresh form, for browsers without scripts (our choice)."""

NO_SEEN: Mapping[str, str] = dict.fromkeys(SEEN, "")

STICK_S = 10.0
"""Seconds over which a kept speed is shown again as a stick's way (our choice)."""


def unit_names(units: UnitSystem) -> dict[str, str]:
    """Return the units of plain numbers in the form."""
    return {
        "flow": FLOW[units].replace("m3", "m\u00b3"),
        "length": LENGTH[units],
        "speed": SPEED[units],
        "temperature": TEMPERATURE[units],
    }


def empty_form(now: datetime) -> dict[str, Any]:
    """Return the fields of a fresh form: now, and nothing else."""
    return {
        "uid": new_id(),
        "date": f"{now:%Y-%m-%d}",
        "time": f"{now:%H:%M}",
        "zone": "",
        "seen": [dict(NO_SEEN) for _ in range(ROWS)],
    }


def sent_again(sent: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """Return fields as they were sent, to be put right."""
    number = max((len(sent.get(name, ())) for name in SEEN), default=0)
    rows = [
        {name: (values[n] if n < len(values := sent.get(name, ())) else "") for name in SEEN}
        for n in range(number)
    ]
    plain = {name: values[0] for name, values in sent.items() if values and name not in SEEN}
    if plain.get("units") not in list(UnitSystem):
        plain.pop("units", None)
    return plain | {"seen": rows or [dict(NO_SEEN) for _ in range(ROWS)]}


def entry_form(entry: Entry, units: UnitSystem) -> dict[str, Any]:
    """Return a kept entry as fields, to be changed."""
    typed = entry.flow_from == "typed"
    return {
        "uid": entry.uid,
        "date": f"{entry.when:%Y-%m-%d}",
        "time": f"{entry.when:%H:%M}",
        "zone": str(getattr(entry.when.tzinfo, "key", "")),
        "run": entry.run,
        "flow": _plain(from_si(entry.flow, FLOW[units])) if typed else "",
        "clarity": _plain(from_si(entry.clarity_m, LENGTH[units])),
        "water": _plain(from_celsius(entry.water_c, units)),
        "minutes": _plain(entry.minutes),
        "swung": entry.swung,
        "touches": str(entry.touches),
        "landed": str(entry.landed),
        "released": str(entry.released),
        "place": _place(entry.x, entry.y),
        "photo": entry.photo,
        "note": entry.note,
        "seen": [*(_seen(one, units) for one in entry.seen), dict(NO_SEEN)],
    }


def _seen(one: Seen, units: UnitSystem) -> dict[str, str]:
    """Return a kept thing seen as a row of fields."""
    value, seconds = one.value, ""
    if one.kind is SeenKind.SPEED:
        value, seconds = one.value * STICK_S, _plain(STICK_S)
    values = (
        str(one.kind),
        _plain(from_si(value, LENGTH[units])),
        seconds,
        _place(one.x, one.y),
        one.note,
    )
    return dict(zip(SEEN, values, strict=True))


def _place(x: float, y: float) -> str:
    """Return a place as "latitude, longitude"; "" where there is none."""
    return "" if math.isnan(x) or math.isnan(y) else f"{y:.7f}, {x:.7f}"


def _plain(value: float) -> str:
    """Return a number without needless digits; "" for NaN."""
    return "" if math.isnan(value) else f"{value:.6g}"


def entry_card(entry: Entry, units: UnitSystem) -> dict[str, Any]:
    """Return a stored entry for the page's list."""
    flow = "" if math.isnan(entry.flow) else flow_words(entry.flow, units)
    came = touches_words(entry.touches)
    if entry.landed:
        came += f", {entry.landed} landed"
    minutes = "" if math.isnan(entry.minutes) else f"{entry.minutes:.0f} min"
    number = len(entry.seen)
    seen = "" if not number else f"{number} seen or measured"
    return {
        "uid": entry.uid,
        "day": f"{entry.when:%Y-%m-%d}",
        "time": f"{entry.when:%H:%M}",
        "run": entry.run or "no run named",
        "line": " \u00b7 ".join(part for part in (flow, minutes, came, seen) if part),
        "swung": entry.swung,
        "note": entry.note,
        "photo": entry.photo,
    }


def kept_words(entry: Entry) -> list[str]:
    """Return advice to show after storing an entry."""
    sentences = []
    if entry.seen and math.isnan(entry.flow):
        sentences.append(
            "Nobody knows the flow of that hour, so its edges, depths and speeds cannot help the "
            "map: add the flow when you know it."
        )
    if math.isnan(entry.minutes):
        sentences.append("Without the time you fished, this trip tells no rate.")
    return sentences
