"""The angler's own values in reach.toml besides the drawing and the kit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reachmap.base.words import Cast, WadeRule


@dataclass(frozen=True, slots=True)
class OwnCast:
    """Own parameters of one cast's loop; NaN where not given.

    `anchored` share of the head left on the water, `tilt_deg` lean of the rod back from upright
    [degrees], `apex_share` height of the loop's apex over that of the rod tip.
    """

    cast: Cast
    anchored: float
    tilt_deg: float
    apex_share: float


@dataclass(frozen=True, slots=True)
class OwnFly:
    """A row of the fly table: lower limit of clarity [m], the fly's length [m], and words."""

    clarity_m: float
    short_m: float
    long_m: float
    colour: str
    shape: str
    note: str


@dataclass(frozen=True, slots=True)
class Sighting:
    """A clarity seen [m] at a flow [m3/s]."""

    flow: float
    clarity_m: float


@dataclass(frozen=True, slots=True)
class Own:
    """The angler's own values [SI]; defaults apply to what is not in it.

    `numbers` by "section.key"; `rules` the wading rules in force, empty for the default ones;
    `sightings` none or two, at different flows.
    """

    numbers: Mapping[str, float] = field(default_factory=dict)
    rules: tuple[WadeRule, ...] = ()
    casts: tuple[OwnCast, ...] = ()
    flies: tuple[OwnFly, ...] = ()
    sightings: tuple[Sighting, ...] = ()
