"""Wind and a forecast's way back in sentences."""

from __future__ import annotations

import numpy as np

from reachmap.angler.day import CutOff, WindOnRun
from reachmap.angler.wind import WindWord
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem


def wind_on_run_words(found: WindOnRun | None) -> str:
    """Return what a wind means for a run, in one line; empty if calm or not known."""
    if found is None:
        return ""
    way = f"Wind from river {found.wind}"
    if found.wind in (WindWord.UPSTREAM, WindWord.DOWNSTREAM):
        way = f"{found.wind.capitalize()} wind"
    if found.cast is None:
        return f"{way}: no cast with room here keeps the loop downwind of you."
    some = f"; at {found.lost} of {found.places} places none does" if found.lost else ""
    return f"{way}: {found.cast} keeps the loop downwind of you{some}."


def cut_off_words(found: CutOff, units: UnitSystem) -> str:
    """Return when a forecast cuts off the way back from a run."""
    if not found.place:
        return "No mapped flow cuts off the way back from its places."
    last = flow_words(found.open_until_m3_s, units)
    if np.isnat(found.when):
        return f"The forecast stays at or below {last}: the way back stays open."
    when = np.datetime_as_string(found.when, unit="m").replace("T", " ")
    return (
        f"Be back before {when} UTC: the forecast then goes above {last}, the last flow at which "
        "the way back is known open."
    )
