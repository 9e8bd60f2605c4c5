"""The sentence on the water's temperature for which a map's lies were found."""

from __future__ import annotations

from datetime import UTC, datetime

from reachmap.base.language import date_text, noted, tr
from reachmap.base.units import TEMPERATURE, from_celsius
from reachmap.base.words import Season, UnitSystem
from reachmap.markup.model import LieLimits
from reachmap.text.numbers import speed_words
from reachmap.water.lie_warmth import Warmth, WarmthFrom

BY = {WarmthFrom.ASKED: noted("as you gave it"), WarmthFrom.FOLDER: noted("by reach.toml")}
"""Where a temperature comes from that is not a reading."""

SEASONS = {Season.WINTER: noted("winter"), Season.SUMMER: noted("summer")}
"""Names of the seasons within a sentence."""


def lie_words(
    warmth: Warmth | None, limits: LieLimits, usual: LieLimits, units: UnitSystem
) -> list[str]:
    """Return the sentence on the water's temperature and the lies; none where it is not known.

    Parameters
    ----------
    warmth
        The temperature and where it comes from.
    limits, usual
        The limits of lies at it, and the season's.
    units
        The folder's units.
    """
    if warmth is None:
        return []
    if warmth.when is None:
        origin = tr(BY[warmth.origin])
    else:
        day = datetime.fromtimestamp(int(warmth.when.astype("datetime64[s]").astype(int)), UTC)
        origin = tr("by the record to {day}", day=date_text(day.date(), "year"))
    degrees = f"{from_celsius(warmth.celsius, units):.0f} {TEMPERATURE[units]}"
    speed, other = (speed_words(one.speed_high_m_s, units) for one in (limits, usual))
    beside = tr("as usual") if speed == other else tr("{speed} is usual", speed=other)
    return [
        tr(
            "water of {degrees}, {origin}: fish are looked for where it runs up to {speed} near "
            "the bed ({season}: {beside})",
            degrees=degrees,
            origin=origin,
            speed=speed,
            season=tr(SEASONS[limits.season]),
            beside=beside,
        )
    ]
