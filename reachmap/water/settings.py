"""Settings of the water stage, each with its source or range."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.base.units import FOOT_M
from reachmap.base.words import Season
from reachmap.markup.defaults import LIMITS
from reachmap.markup.model import SeasonLimits

WINTER, SUMMER = LIMITS[Season.WINTER], LIMITS[Season.SUMMER]
"""The usual limits: common practice, no published source; winter fish hold slower, softer water."""


@dataclass(frozen=True, slots=True)
class BendSettings:
    """What counts as a bend; widths are the river's own."""

    smoothing_widths: float = 0.8
    """Width of the Gaussian the line is smoothed with, in river widths; our choice, 0.6-1.1.
    With 0.8 a straight line drawn with 10 % of a width of noise shows no bend."""
    turn_low_deg: float = 20.0
    """Least turning between two inflections; our choice, 15-35."""
    radius_high_widths: float = 10.0
    """Largest mean radius, in widths: beyond it a curve no longer gathers soft water inside. Our
    choice, 6-12; most river curves have 2 to 3 (Leopold and Wolman 1960, GSA Bull. 71:769,
    abstract)."""
    tail_widths: float = 0.5
    """How far below the bend its inside still counts, in widths; from memory: the pool and bar
    lag the curvature by about half a width to one; range 0-1."""
    inner_share: float = 0.6
    """Share of the width, from the inner edge, that counts as inside; our choice, 0.4-0.7."""


@dataclass(frozen=True, slots=True)
class ChannelSettings:
    """What counts as a channel and as an island."""

    island_low_m2: float = 60.0
    """Dry ground smaller than this is a boulder or a lump, not an island; our choice, 30-300."""
    spur_half_widths: float = 1.5
    """A side arm of the skeleton shorter than this many half-widths is only a bay; our choice,
    1.2-2."""
    pool_low_m2: float = 400.0
    """Water cut off from the river and smaller than this is left out; our choice, 100-2000."""


@dataclass(frozen=True, slots=True)
class SeamSettings:
    """What counts as a seam."""

    strength_low: float = 0.06
    """Least change of speed across the flow over distance at the strongest point [1/s]; our choice,
    0.04-0.15. A difference of 0.4 m/s over a rod's two lengths of 7 m is 0.06."""
    follow_share: float = 0.6
    """The seam is followed on until its strength falls below this share of the limit; our choice,
    0.4-0.8."""
    difference_low_m_s: float = 0.25
    """Least difference between the two currents; our choice, 0.2-0.4."""
    ratio_low: float = 0.15
    """Least (fast - slow)/(fast + slow); our choice, 0.1-0.3."""
    slow_depth_low_m: float = 0.3
    """The slower current must be at least this deep: thinner water is the bank's rim, no current of
    its own. Our choice, 0.2-0.5."""
    calm_share: float = 0.5
    """Beyond the seam the change of speed must fall to this share of its peak while still in deep
    enough water: so banks are told from seams. Our choice, 0.3-0.6."""
    length_low_m: float = 30.0
    """Shorter ones are noise, or too short to swing a fly down: 100 feet; our choice, 16-40. On the
    sample most that are shorter are not in the true river."""
    junction_length_low_m: float = 16.0
    """The same where two channels meet: there a seam is expected. Our choice, 10-30."""
    end_widths: float = 1.0
    """A seam nearer than this to where the mapped water begins or ends tells how the water was let
    in, not how it runs, in river widths; our choice, 0.5-2."""
    double_share: float = 0.5
    """Of two seams with the same slower side, the lesser is left out where this share of it lies
    within the other's own thickness: both are one mixing layer. Our choice, 0.3-0.7."""
    junction_reach_widths: float = 1.0
    """A seam that begins this near the meeting of channels starts there; our choice, 0.5-1.5."""
    slow_band_m: float = 7.0
    """How much of the slower side counts as its water, half its thickness if that is more; our
    choice, 4-10."""
    fast_band_m: float = 2.0
    """How much of the quicker side, half its thickness if that is more; our choice, 1-4."""


@dataclass(frozen=True, slots=True)
class TailoutSettings:
    """What counts as a tailout."""

    residual_low_m: float = 0.15
    """Least residual depth of the pool above (Lisle 1987); our choice, 0.1-0.3."""
    pool_length_widths: float = 0.5
    """Least length of the pool, in widths; our choice, 0.3-1."""
    smoothing_widths: float = 0.3
    """Bed and speed along the thalweg are averaged over this many widths; our choice, 0.1-0.5."""
    quickening_low: float = 1.1
    """Least ratio of the speed at the lip to that at the start; our choice, 1.05-1.3."""
    quickening_low_m_s: float = 0.1
    """Least gain of speed from start to lip: a dead arm has no tailout; our choice, 0.05-0.2."""
    froude_high: float = 0.5
    """Beyond it the water is a riffle or a chute; our choice, 0.4-0.6."""
    length_high_widths: float = 1.2
    """Longest tailout, in widths; our choice, 1-3."""
    soft_share_low: float = 0.35
    """Where less of its area suits, it has no water of its own; our choice, 0.2-0.5."""


@dataclass(frozen=True, slots=True)
class LaneSettings:
    """What a fish pays for and what it cannot do."""

    effort_per_m_s: float = 1.5
    """k in P ~ exp(k Us): how effort grows with swimming speed [s/m]; our choice, 1-3. The form
    and its best ground speed 1/k: Castro-Santos 2005 (J. Exp. Biol. 208:421, abstract)."""
    depth_low_m: float = 0.18
    """Least depth an adult passes; from memory: Thompson 1972."""
    speed_high_m_s: float = 4.18
    """Sustained swimming speed of an adult; from memory: Bell 1986."""
    cover_depth_m: float = 0.9
    """Depth at which a fish feels covered in clear water; common practice (3 feet), no published
    source; range 0.5-1.5."""
    exposure: float = 9.0
    """How many times more a metre costs where the fish can only just pass; our choice, 4-20."""
    lead_share: float = 0.03
    """A side channel that carries less of the flow leads no fish in; our choice, 0.01-0.1."""
    barrier_cost: float = 500.0
    """A metre too shallow or too quick costs this many still metres, so that the lane breaks only
    where it must; more than any open metre costs; our choice, 500-5000."""
    band_extra_m: float = 15.0
    """The band around the lane holds every way that costs at most this many still metres more; our
    choice, 5-40."""


@dataclass(frozen=True, slots=True)
class ScoreSettings:
    """How candidate water is graded and what is worth showing."""

    area_low_m2: float = 80.0
    """Smaller pieces are left out; our choice, 40-200."""
    length_low_m: float = 12.0
    """Shorter pieces are left out; our choice, 8-25."""
    width_low_m: float = 2.5
    """Narrower pieces are left out; our choice, 2-5."""
    length_full_m: float = 91.0
    """From this length on size counts in full: 100 yards; common practice, no published source."""
    width_full_m: float = 8.0
    """From this width of the strike zone on size counts in full; our choice, 5-12."""
    length_high_m: float = 183.0
    """Longer water is cut into stretches of at most 200 yards; common practice, no published
    source."""
    score_low: float = 20.0
    """Water that scores less is not worth showing; our choice, 10-30."""
    prime_length_m: float = 91.0
    """Prime water holds its score over at least 100 yards; common practice, no published source."""
    prime_score: float = 60.0
    """Least score of prime water; our choice, 50-75."""
    run_length_m: float = 25.0
    """Shorter water is no run of its own; our choice, 15-40."""
    shape_score: float = 30.0
    """Least score at which a run is in shape; our choice, 25-45."""
    uneven_high: float = 1.0
    """Change of speed down the zone over its median at which evenness counts nothing; our choice,
    0.6-1.5."""
    cast_high_m: float = 27.0
    """Farther than this from the bank water is out of reach; common practice (about 90 feet), no
    published source."""
    pace_s_per_m: float = 60.0
    """Time to fish a metre of run: a cast of 75 s and a step of four feet; common practice, no
    published source."""


@dataclass(frozen=True, slots=True)
class WaterSettings:
    """All settings of the water stage.

    `limits` are the season's; `clarity_m` is how far one sees in the water [m], at every flow, or
    `clarity_law` says it by flow: alpha and beta of clarity = alpha flow^-beta.
    """

    limits: SeasonLimits = WINTER
    clarity_m: float = 4.0 * FOOT_M
    clarity_law: tuple[float, float] | None = None
    clear_m: float = 4.0 * FOOT_M
    """Clarity that counts as good: three to four feet; common practice, no published source."""
    coloured_depth_m: float = 0.3
    """Least depth fish hold in when the water is coloured: one to three feet along the soft edge;
    common practice, no published source."""
    bends: BendSettings = field(default_factory=BendSettings)
    channels: ChannelSettings = field(default_factory=ChannelSettings)
    seams: SeamSettings = field(default_factory=SeamSettings)
    tailouts: TailoutSettings = field(default_factory=TailoutSettings)
    lanes: LaneSettings = field(default_factory=LaneSettings)
    score: ScoreSettings = field(default_factory=ScoreSettings)
