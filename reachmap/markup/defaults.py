"""Defaults where reach.toml is silent: a plain kit and the season's limits.

All of it is common practice, no published source, unless said otherwise; every value can be
changed in reach.toml, and the defaults used are reported to the angler.
"""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.units import to_si
from reachmap.base.words import Hand, Season
from reachmap.markup.kit import Angler, Head, Rod, Tip
from reachmap.markup.model import LieLimits, SeasonLimits
from reachmap.markup.plan_parts import Gps, Outing

ANGLER = Angler(
    height_m=1.75,
    wade_limit_m=0.9,
    hand=Hand.RIGHT,
    leader_m=to_si(4.0, "ft"),
    cast_limit_m=to_si(80.0, "ft"),
)
"""A person of middling height who stands no deeper than mid-thigh to hip.

Wade limit: our choice, range 0.5 to 1.1 m; leader: common practice with a sinking tip, 3 to 6 ft;
cast: to the fly, a fair everyday cast, range 60 to 100 ft.
"""

OUTING = Outing()
GPS = Gps()
"""A day on foot on one bank; six hours is a short winter's day, our choice, 3-9."""

RODS = (
    Rod("12 ft 6-weight", to_si(12.0, "ft"), 6),
    Rod("13 ft 7-weight", to_si(13.0, "ft"), 7),
    Rod("14 ft 8-weight", to_si(14.0, "ft"), 8),
)
"""What a guide has in the boat: a short, a middling and a long one; 11 to 15 ft and 6 to 9 weight
are common."""

HEADS = (
    Head("short skagit head", to_si(20.0, "ft"), "skagit"),
    Head("skagit head", to_si(24.0, "ft"), "skagit"),
    Head("scandi head", to_si(34.0, "ft"), "scandi"),
    Head("mid belly", to_si(55.0, "ft"), "mid belly"),
)
"""Short heads for tips, a longer one for light ones and a belly for the open: 18 to 26 ft, 30 to 40
ft and 50 to 60 ft are common."""

TIPS = (
    Tip("floating 10 ft", to_si(10.0, "ft"), 0.0),
    Tip("intermediate 10 ft", to_si(10.0, "ft"), to_si(1.4, "in/s")),
    Tip("type 3 15 ft", to_si(15.0, "ft"), to_si(3.0, "in/s")),
    Tip("T-8 10 ft", to_si(10.0, "ft"), to_si(6.5, "in/s")),
    Tip("T-11 10 ft", to_si(10.0, "ft"), to_si(7.5, "in/s")),
    Tip("T-14 10 ft", to_si(10.0, "ft"), to_si(8.5, "in/s")),
)
"""T-number: grains per foot. Sink rates from memory: intermediate 1-1.75, type 3 2.5-3.5, T-8 6-7,
T-11 7-8, T-14 8-9 in/s, of short pieces."""

LIMITS: Mapping[Season, SeasonLimits] = {
    Season.WINTER: SeasonLimits(Season.WINTER, 0.45, 1.8, 0.3, 0.9),
    Season.SUMMER: SeasonLimits(Season.SUMMER, 0.35, 1.8, 0.4, 1.3),
}
"""Depths and speeds of water that holds fish, by the guide's choice; no published source.

Winter: depth 0.45 m (range 0.3-0.8) to 1.8 m (1.5-2.5), speed 0.3 (0.15-0.4) to 0.9 m/s (0.7-1.1).
Summer fish take faster water: depth 0.35 m (0.3-0.6) to 1.8 m (1.2-2.5), speed 0.4 (0.2-0.5) to
1.3 m/s (1.0-1.6).
"""

LIE_LIMITS: Mapping[Season, LieLimits] = {
    Season.WINTER: LieLimits(Season.WINTER, 0.7, 3.5, 0.45),
    Season.SUMMER: LieLimits(Season.SUMMER, 0.6, 3.5, 0.5),
}
"""Depths of lies and the most speed near the bed, 0.1 to 0.2 m above it; our choice.

Nakamoto (1994), Trans. Am. Fish. Soc. 123:757, abstract: adult summer fish held at 0.01 to 0.34 m/s
under ledges and beside boulders, in pools 1.0 to 1.4 m in mean depth. The limits are where odds
halve, so they lie outside of that: least depth 0.7 m (range 0.5-1.0), 0.6 m in summer; most 3.5 m
(2.5-5); speed 0.45 m/s (0.35-0.6), 0.5 m/s in summer.
"""
