"""Settings of the water stage, each with its source or range."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.base.words import Season
from reachmap.gauge.flow_clarity import FlowClarity
from reachmap.markup.config.own_numbers import (
    ClarityNumbers,
    LaneNumbers,
    RunNumbers,
    SuitNumbers,
)
from reachmap.markup.defaults import LIMITS
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.model_error import ModelError
from reachmap.water.structure_settings import (
    BedFormSettings,
    LieSettings,
    StructureSettings,
)

WINTER, SUMMER = LIMITS[Season.WINTER], LIMITS[Season.SUMMER]
"""The usual limits: common practice, no published source; winter fish hold slower, softer water."""


@dataclass(frozen=True, slots=True)
class SuitSettings(SuitNumbers):
    """How water suits the season's fish."""

    model: ModelError = field(default_factory=ModelError)
    """Error of depth and speed without an ensemble: the flow model's own, the bed's left out."""


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
    dead_share: float = 0.002
    """An arm that ends and carries less than this share of the flow is dead; our choice,
    0.001-0.01."""
    thalweg_power: float = 2.0
    """How sharply the thalweg keeps to the strongest current: the power of largest over own
    discharge per width in the cost of a metre. Our choice, 1-4."""


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
    chance_low: float = 0.8
    """Least chance that they truly differ by that much, by what the speeds may be off: so most
    rivers that the evidence allows have the seam. Our choice, 0.7-0.95."""
    ratio_low: float = 0.15
    """Least (fast - slow)/(fast + slow); our choice, 0.1-0.3."""
    slow_depth_low_m: float = 0.3
    """The slower current must be at least this deep: thinner water is the bank's rim, no current of
    its own. Our choice, 0.2-0.5."""
    living_low_m_s: float = 0.1
    """A slower current than this is dead water and its rim no seam, unless it runs back upriver: an
    eddy line. Our choice, 0.05-0.15."""
    thickness_high_widths: float = 0.25
    """A change of speed wider than this share of the river is a slope and no line, but below a
    junction; our choice, 0.15-0.35."""
    calm_share: float = 0.5
    """Beyond the seam the change of speed must fall to this share of its peak while still in deep
    enough water: this separates seams from banks. Our choice, 0.3-0.6."""
    length_low_m: float = 30.0
    """Shorter ones are noise, or too short to swing a fly down: 100 feet; our choice, 16-40. On the
    sample most that are shorter are not in the true river."""
    junction_length_low_m: float = 16.0
    """The same where two channels meet: there a seam is expected. Our choice, 10-30."""
    end_widths: float = 1.0
    """A seam nearer than this to where the mapped water begins or ends, in river widths, is an
    effect of the boundary condition; our choice, 0.5-2."""
    double_share: float = 0.5
    """Of two seams with the same slower side, the lesser is left out where this share of it lies
    within the other's own thickness: both are one mixing layer. Our choice, 0.3-0.7."""
    junction_reach_widths: float = 1.0
    """A seam that begins this near the meeting of channels starts there; our choice, 0.5-1.5."""
    slow_share: float = 0.5
    """Share of the season's least speed from which the slower side of a seam suits: the fly swings
    into it out of quicker water. Our choice, 0.3-0.8."""
    slow_layers: float = 1.0
    """How far a seam's own water reaches on its slower side, in the seam's thickness: at 1 all but
    2 % of the change of speed has passed (tanh 2 = 0.964). Our choice, 0.5-1.5."""
    average_cells: int = 2
    """Cells up and down the flow that the speed is averaged over; our choice, 1-3."""
    side_look_m: float = 24.0
    """Distance to either side within which the two currents are looked for; our choice, 15-40."""
    bed_friction: float = 0.006
    """Bed friction factor cf where the bed's own is not known; our choice, 0.003-0.01."""
    strength_quantile: float = 0.8
    """Quantile of the change of speed along a seam that is its strength: near its strongest point,
    but no single cell's. Our choice, 0.7-0.9."""
    one_side_share: float = 0.7
    """Least share of a seam's cells with the slower current on one side; our choice, 0.6-0.9."""
    same_m: float = 8.0
    """How near to each other a seam runs at two flows that follow [m]; our choice, 4-12."""
    same_share: float = 0.5
    """Share of the shorter one's length that runs so near; our choice, 0.3-0.7."""
    lasting_ratio: float = 1.5
    """A seam that is gone again at a flow so many times that below at which it was not yet there is
    none; our choice, 1.2-1.8: two solved flows of a ladder lie about 1.33 apart, so that it must be
    there at two of them."""
    fast_layers: float = 0.25
    """The same on the quicker side: about where the fly lands before it swings in. Our choice,
    0-0.5."""


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
    turn_share: float = 0.05
    """Going up from the lip, a loss of depth or gain of speed of no more than this share does not
    end the tailout; our choice, 0.02-0.1."""
    walk_low_m_s: float = 0.4
    walk_high_m_s: float = 1.2
    """Speeds of a slow and a brisk walk, by which the side to fish is chosen; common practice, no
    published source."""
    known_low: float = 0.5
    """Least confidence of the bed for a tailout to be located on it; our choice, 0.4-0.8: a bed
    synthesised from banks alone has 0.25, one whose error soundings halved 0.55, ground seen by a
    DEM 0.9."""
    levelled_low: float = 0.35
    """The same where the low water's surface was measured, whose fall separates pool from riffle;
    our choice, 0.3-0.4: a bed synthesised beneath such a surface has 0.4."""
    known_share: float = 0.7
    """Least share of the way from a pool's deepest place to its lip that is so known; our choice,
    0.5-0.9."""
    span_low: float = 0.3
    """Least share of the water's width, at the pool's deepest place, whose bed lies below the lip:
    less is a bucket that the river runs around. Our choice, 0.25-0.4; pools of a made river with
    bends span 0.43 and more at every flow, a bucket 0.19."""
    soft_share_low: float = 0.35
    """Where less of its area is expected to suit, it has no water of its own; our choice,
    0.2-0.5."""


@dataclass(frozen=True, slots=True)
class LaneSettings(LaneNumbers):
    """Costs and limits of a fish on its way upstream."""

    end_m: float = 8.0
    """How far from the foot and top of a piece of water a lane may start and end; our choice,
    4-20."""
    coloured_share: float = 1 / 3
    """Depth of cover in the most coloured water over that in clear water: one foot for three;
    common practice, no published source."""
    barrier_cost: float = 500.0
    """A metre too shallow or too quick costs this many still metres, so that the lane breaks only
    where it must; more than any open metre costs; our choice, 500-5000."""


@dataclass(frozen=True, slots=True)
class CorridorSettings:
    """How many fish of which habits make the corridor, and how far they plan."""

    fish: int = 7
    """How many fish; our choice, 5-17, best a prime number: then no two habits go together."""
    effort_range: tuple[float, float] = (0.67, 1.67)
    """Factors on the angler's `lane.effort`: 1 to 2.5 s/m about 1.5. Our choice; sources differ on
    how closely fish keep to least effort (Standen, Hinch and Rand 2004; Weaver 1963; abstracts)."""
    theta_range: tuple[float, float] = (0.05, 0.3)
    """How closely a fish keeps to cheap ways [1/still metre] on cells of 2 m; our choice, 0.02-0.4.
    On others it is scaled, so that the corridor stays as wide."""
    cell_m: float = 4.0
    """Size of the cells the ways are found on [m], where the map's own are not larger; our choice,
    2-4: half the size takes eight times as long."""
    cover_range: tuple[float, float] = (0.6, 1.4)
    """Factors on the usual depth of cover; our choice: large fish want more, small ones less."""
    bank_pull: float = 1.0
    """Extra cost of a metre at the far bank, for a fish that keeps to one; our choice, 1-4."""
    dead_m_s: float = 0.1
    dead_pull: float = 2.0
    """Water slower than this leads no fish on: how many times more a metre costs where it stands
    still; our choice, 0.05-0.15 m/s and 1-5."""
    core_m: float = 100.0
    sight_m: float = 150.0
    behind_m: float = 30.0
    """Stretches of river whose ways are found at a time, how far ahead a fish plans, and what lies
    below [m]; our choice, 40-120, 100-150 and 20-40."""
    bin_m: float = 20.0
    """Length of the stretches by which the odds of the banks are given [m]; our choice, 10-40."""
    shares: tuple[float, ...] = (0.5, 0.8)
    """Shares of the fish whose densest ways are drawn as bands; our choice."""
    band_m: float = 8.0
    """Length of the stretches by which these are found [m]; our choice, 4-16."""
    line_floor: float = 0.003
    """Passage taken where none was found, so that the line of most passage never jumps; our choice,
    0.001-0.01."""


@dataclass(frozen=True, slots=True)
class ScoreSettings(RunNumbers):
    """How candidate water is graded and what is worth showing."""

    area_low_m2: float = 80.0
    """Smaller pieces are left out; our choice, 40-200."""
    length_low_m: float = 36.6
    length_low_widths: float = 3.0
    """Shorter pieces do not stand alone: 40 yards, on a creek so many river widths if that is less.
    They go with what they touch, else they are left over. Our choice, 25-45 m and 2-4."""
    tailout_length_low_m: float = 12.0
    """The same for tailouts, which lie from bank to bank; our choice, 8-25."""
    width_low_m: float = 2.5
    """Narrower pieces are left out; our choice, 2-5."""
    length_full_m: float = 91.0
    """From this length on size counts in full: 100 yards; common practice, no published source."""
    width_full_m: float = 8.0
    """From this width of the strike zone on size counts in full; our choice, 5-12."""
    score_low: float = 20.0
    """Water that scores less is not worth showing; our choice, 10-30."""
    slope_share: float = 0.4
    """Share of a range, at either end, over which suiting rises from half to 1; our choice,
    0.25-0.5."""
    even_bin_m: float = 10.0
    """Length of the stretches whose median speeds are compared for evenness; our choice, 5-20."""
    cut_spare_m: float = 40.0
    """Water is not cut between two stretches where that would leave less than this in one of them;
    our choice, 20-60."""
    ends_widths: float = 1.0
    """No water is offered this near to where the mapped water begins or ends, in river widths: how
    it enters and leaves is assumed there. Our choice, 0.5-2."""
    island_share: float = 0.6
    """From this share of its cells on, water against an island is the island's; our choice,
    0.5-0.8."""
    sure_good: float = 0.7
    sure_fair: float = 0.4
    """Confidence of the ground (0 to 1) from which water counts as good or fair; our choice."""
    uneven_high: float = 1.0
    """Change of speed down the zone over its median at which evenness counts nothing; our choice,
    0.6-1.5."""


@dataclass(frozen=True, slots=True)
class RunSettings:
    """Which water is a run's, and which run takes another's place."""

    overlap_low: float = 0.5
    """Share of the shorter one's length along the river that water has in common with a run the
    angler drew, to be of it; our choice, 0.4-0.7."""
    apart_widths: float = 0.35
    """How far from it that water may lie, in river widths: the edge moves up the bar as the flow
    rises. Our choice, 0.2-0.5."""
    spare: float = 1.35
    """A bend or straight up to so many times the longest run is one stretch; our choice, 1-1.5: its
    prime water is picked within it."""
    dry_share: float = 0.3
    """A run with less known water than this share of its ground is dry; our choice, 0.2-0.5."""
    unknown_share: float = 0.5
    """A run with more unknown ground than this share is not known; our choice, 0.3-0.5."""
    instead_m: float = 500.0
    """Distance at which a substitute run is worth half; our choice, 300-1500."""
    fresh_worth: float = 1.25
    """How much more a run is worth that is not in shape where the lost one is best: it comes in as
    that one goes out. Our choice, 1-1.5."""


@dataclass(frozen=True, slots=True)
class WaterSettings(ClarityNumbers):
    """All settings of the water stage.

    `limits` are the season's; `clarity_m` is the visibility in the water [m] at every flow, unless
    `clarity_law` gives it by flow.
    """

    limits: SeasonLimits = WINTER
    suits: SuitSettings = field(default_factory=SuitSettings)
    clarity_law: FlowClarity | None = None
    bends: BendSettings = field(default_factory=BendSettings)
    channels: ChannelSettings = field(default_factory=ChannelSettings)
    seams: SeamSettings = field(default_factory=SeamSettings)
    tailouts: TailoutSettings = field(default_factory=TailoutSettings)
    lanes: LaneSettings = field(default_factory=LaneSettings)
    corridor: CorridorSettings = field(default_factory=CorridorSettings)
    score: ScoreSettings = field(default_factory=ScoreSettings)
    runs: RunSettings = field(default_factory=RunSettings)
    bed_forms: BedFormSettings = field(default_factory=BedFormSettings)
    lies: LieSettings = field(default_factory=LieSettings)
    structure: StructureSettings = field(default_factory=StructureSettings)
