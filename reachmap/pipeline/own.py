"""From the angler's own numbers in reach.toml to the settings of the stages."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from typing import Any

from reachmap.angler import AnglerSettings
from reachmap.angler.fly import FLIES, FlyRow
from reachmap.gauge.flow_clarity import FlowClarity, sighted
from reachmap.markup.config.own_numbers import with_own
from reachmap.markup.own import Own
from reachmap.water import WaterSettings


def own_water(settings: WaterSettings, own: Own, noted: FlowClarity | None = None) -> WaterSettings:
    """Return the water's settings with the angler's own numbers in them.

    Clarity by flow is that of the two sightings in reach.toml, else what the notes bear (`noted`).
    """
    changed = with_own(settings, own.numbers)
    if own.sightings:
        low, high = ((one.flow, one.clarity_m) for one in own.sightings)
        return replace(changed, clarity_law=sighted(low, high))
    return replace(changed, clarity_law=noted)


def own_angler(settings: AnglerSettings, own: Own) -> AnglerSettings:
    """Return the angler's settings with their own numbers, rules, casts and flies in them."""
    changed = with_own(settings, own.numbers)
    casts = dict(changed.room.casts)
    for one in own.casts:
        figures: dict[str, Any] = {
            "anchored": one.anchored,
            "tilt_deg": one.tilt_deg,
            "apex_share": one.apex_share,
        }
        given = {name: value for name, value in figures.items() if not math.isnan(value)}
        casts[one.cast] = replace(casts[one.cast], **given)
    return replace(
        changed,
        wading=replace(changed.wading, rules=own.rules or changed.wading.rules),
        room=replace(changed.room, casts=casts),
        flies=tuple(FlyRow(**asdict(fly)) for fly in own.flies) or FLIES,
    )
