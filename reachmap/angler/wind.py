"""Wind: on which side the loop must lie so that the hook blows away from the angler."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from reachmap.angler.casts import CASTS
from reachmap.base.units import to_si
from reachmap.base.words import Cast, Hand, LoopSide, Word


class WindWord(Word):
    """Wind in the angler's words."""

    CALM = "calm", "too little to matter"
    UPSTREAM = "upstream", "it blows up the river"
    DOWNSTREAM = "downstream", "it blows down the river"
    LEFT = "left", "it blows from river left across"
    RIGHT = "right", "it blows from river right across"


@dataclass(frozen=True, slots=True)
class Wind:
    """Wind, either as a word or as a direction.

    `towards_rad` is where it blows to, from east to north [rad], NaN where only a word was given;
    `speed_m_s` its speed, NaN where not known.
    """

    word: WindWord = WindWord.CALM
    towards_rad: float = math.nan
    speed_m_s: float = math.nan


CALM_M_S = 2.0
"""Wind slower than this is taken as calm [m/s]; our choice, 1-3: a light air, leaves rustle."""
ALONG_SHARE = 0.35
"""Share of the wind along the river from which on it rules the side; our choice, 0.25-0.5."""


def wind_from_forecast(from_deg: float, speed_m_s: float) -> Wind:
    """Return the wind of a forecast.

    Parameters
    ----------
    from_deg
        Compass direction it comes from [degrees], as forecasts give it: 0 north, 90 east.
    speed_m_s
        Its speed [m/s].
    """
    towards = math.radians(90.0 - (from_deg + 180.0))
    return Wind(WindWord.CALM, math.atan2(math.sin(towards), math.cos(towards)), speed_m_s)


POINTS = (
    *("n", "nne", "ne", "ene", "e", "ese", "se", "sse"),
    *("s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw"),
)
"""Points of the compass, each 22.5 degrees on from the last."""
_FORECAST = re.compile(
    r"(?:from\s+)?([a-z]{1,3}|\d{1,3}(?:\.\d+)?)(?:\s*(?:deg|°))?\s+(?:at\s+)?"
    r"(\d+(?:\.\d+)?)\s*(mph|m/s|km/h|kn|kt|knots|ft/s)"
)
_SAME_UNIT = {"kt": "kn", "knots": "kn"}
FASTEST_M_S = 60.0
"""A stronger wind than this is a slip of the pen [m/s]; our choice."""


def read_wind(text: str) -> Wind:
    """Return a wind as it is typed: a word, or where it comes from and how fast.

    Parameters
    ----------
    text
        A word of `WindWord`, or a forecast like ``SW 12 mph``, ``from 225 at 5 m/s``.

    Raises
    ------
    ValueError
        If it is neither, or no wind of this world.

    Examples
    --------
    >>> read_wind("upstream").word.value
    'upstream'
    >>> round(read_wind("W 10 mph").speed_m_s, 2)
    4.47
    """
    plain = text.strip().lower()
    if plain in [word.value for word in WindWord]:
        return Wind(word=WindWord(plain))
    found = _FORECAST.fullmatch(plain)
    if found is not None:
        way, number, unit = found.groups()
        speed = to_si(float(number), _SAME_UNIT.get(unit, unit))
        degrees = 22.5 * POINTS.index(way) if way in POINTS else _degrees(way)
        if 0 <= degrees <= 360 and speed <= FASTEST_M_S:
            return wind_from_forecast(degrees, speed)
    words = ", ".join(word.value for word in WindWord)
    msg = f"{text!r} is no wind: give one of {words}, or a forecast like 'SW 12 mph'"
    raise ValueError(msg)


def _degrees(text: str) -> float:
    """Return compass degrees; NaN where it is no number."""
    return float(text) if text[0].isdigit() else math.nan


def downwind_side(wind: Wind, down_east: float, down_north: float) -> LoopSide:
    """Return the side on which the loop must lie: the downwind one, so that the line passes clear.

    Parameters
    ----------
    wind
        The wind.
    down_east, down_north
        Unit vector down the current where one stands.
    """
    if wind.word is WindWord.UPSTREAM:
        return LoopSide.UPSTREAM
    if wind.word is WindWord.DOWNSTREAM:
        return LoopSide.DOWNSTREAM
    if math.isnan(wind.towards_rad) or wind.speed_m_s < CALM_M_S:
        return LoopSide.EITHER
    along = math.cos(wind.towards_rad) * down_east + math.sin(wind.towards_rad) * down_north
    if abs(along) < ALONG_SHARE:
        return LoopSide.EITHER
    return LoopSide.DOWNSTREAM if along > 0 else LoopSide.UPSTREAM


def clear_of_wind(cast: Cast, side: LoopSide) -> bool:
    """Return whether a cast's loop lies on the side the wind leaves."""
    own = CASTS[cast].side
    return LoopSide.EITHER in (own, side) or own is side


def natural_hand(loop: LoopSide, *, river_left: bool, hand: Hand) -> bool:
    """Return whether the loop lies on the shoulder of the upper hand.

    On river left, facing across, upstream is to the right: a right-handed angler's natural loop is
    the upstream one there and the downstream one from river right. A cast that leaves the side open
    is made on the natural one.
    """
    if loop is LoopSide.EITHER:
        return True
    upstream = loop is LoopSide.UPSTREAM
    return (upstream != river_left) != (hand is Hand.RIGHT)
