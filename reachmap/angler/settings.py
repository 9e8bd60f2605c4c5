"""Every number the angler's floor rests on, in one place, each with its source or its range."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.angler.casts import CASTS, CastShape
from reachmap.angler.fly import FLIES, FlyRow
from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.wading_settings import WadingSettings
from reachmap.angler.wind import Wind
from reachmap.base.units import FOOT_M
from reachmap.base.words import Cast, Season


@dataclass(frozen=True, slots=True)
class RoomSettings:
    """Room behind the angler; lengths from memory in feet, all of them the angler's to change."""

    hand_m: float = 5.5 * FOOT_M
    """Height of the hands above the feet; from memory."""
    butt_m: float = 1.5 * FOOT_M
    """Part of the rod below the upper hand; from memory."""
    back_m: float = 0.5 * FOOT_M
    """How far behind the feet the hands are at the key position; from memory."""
    anchor_m: float = 2.0 * FOOT_M
    """How far in front of the feet the line meets the water; from memory."""
    overhang_short_m: float = 2.0 * FOOT_M
    """Running line outside the tip ring with short heads; from memory."""
    overhang_long_m: float = 3.0 * FOOT_M
    """The same with heads of 34 ft and more; from memory, 3-4 ft."""
    long_head_m: float = 30.0 * FOOT_M
    """From this length on a head counts as long for its overhang; our choice."""
    margin_m: float = 3.0 * FOOT_M
    """Room to spare behind the loop; from memory."""
    clearance_m: float = 2.0 * FOOT_M
    """How far the lower leg of the loop stays above what it could catch in; from memory."""
    cover_low_m: float = 0.6
    """What stands lower than this is grass or stones: the line may come near it. Our choice,
    0.3-0.8."""
    doubt: float = 0.20
    """Share by which every reach may be off: printed as +-20 %."""
    sweep_deg: float = 15.0
    """Half the sweep of directions the loop may lie in; from memory."""
    rays: int = 15
    """Directions in the sweep; our choice, 7-31."""
    look_m: float = 40.0
    """How far behind to look; our choice, more than the longest overhead cast needs."""
    sag_s: float = 0.7
    """How long the far end of a line straightened behind falls freely before it is drawn forward:
    tip, leader and fly sag 2.4 m. Our choice, 0.5-0.9."""
    skagit_rods: float = 2.0
    """Longest skagit head over the rod it is lifted with; common practice, no published source,
    1.5-2."""
    scandi_rods: float = 3.0
    """The same of a scandi head; common practice, no published source, 2.5-3."""
    belly_rods: float = 4.5
    """The same of short, mid and long bellies; common practice, no published source, 3.5-4.5."""
    casts: dict[Cast, CastShape] = field(default_factory=lambda: dict(CASTS))
    """The loop of each cast, in the table's order; shares, tilts and apexes from memory."""


@dataclass(frozen=True, slots=True)
class StationSettings:
    """Where to stand."""

    spacing_m: float = 5.0
    """Distance between places down a piece of water; our choice, 3-10: every few yards."""
    land_m: float = 4.0
    """How far back from the water's edge on dry ground one may stand; our choice, 2-6."""
    stand_depth_high_m: float = 0.75
    """Deepest place to stand and cast from; our choice, 0.4-0.9: mid-thigh."""
    clear_of_water_m: float = 1.0
    """How far outside the swing water one stands, where there is room; our choice, 0-3."""
    depth_effort: float = 6.0
    """How many metres nearer to the water a metre of wading must bring one; our choice, 3-12:
    nobody wades deeper than the cast needs."""
    rise_high_m: float = 1.5
    """Highest ground above the water one casts from; our choice, 1-2.5."""
    angles_deg: tuple[float, ...] = (15.0, 25.0, 35.0, 45.0, 55.0, 65.0, 75.0)
    """Cast angles tried, down from straight across."""
    beyond_m: float = 1.0
    """How far beyond the far edge of the swing water the fly lands; our choice, 0-3."""
    band_m: float = 8.0
    """Width of swing water fished on one pass: no cast is longer than this needs, if it loads the
    shortest head. Our choice, 5-12; near water first is common practice."""


@dataclass(frozen=True, slots=True)
class SwingSettings:
    """The swing that is wanted and how it is worked out."""

    pace_low_m_s: float = 0.25
    """Slowest wanted speed of the fly across the current; our choice, 0.15-0.3."""
    pace_high_m_s: float = 0.60
    """Quickest in winter; common practice (a slow walk), no published source."""
    pace_winter_m_s: float = 1.5 * FOOT_M
    """What the choice of angle aims at in winter; common practice, no published source."""
    pace_summer_m_s: float = 2.25 * FOOT_M
    """The same in summer; common practice, no published source; the quickest is 1.5 times that of
    winter too."""
    swim_low_s: float = 6.0
    """A place from which the fly swims its water for less is left out; our choice, 3-10."""
    swim_share_low: float = 0.25
    """So is one from which it swims its water for less than this share of the swing: there the line
    only drags it out. Our choice, 0.15-0.4."""
    stall_m_s: float = 0.12
    """Slower than this over the ground the fly has stalled; our choice, 0.08-0.2: half the slowest
    wanted pace."""
    hang_deg: float = 10.0
    """The swing ends when the line points this near straight down the current; our choice, 5-15."""
    depth_share_low: float = 0.35
    """Share of the water's depth the fly should reach; common practice (winter fish lie in the
    lower half and come up a little), no published source; 0.2-0.6."""
    depth_share_high: float = 0.85
    """Deeper than this share the fly is about to touch; our choice, 0.75-0.95."""
    length_cost: float = 0.3
    """What the longest cast costs, in shares the pace may be off; our choice, 0.1-0.6."""
    room_cost: float = 1.0
    """What a cast without room behind costs, in the same measure; our choice, 0.5-2."""
    depth_cost: float = 1.0
    """What a share of depth too high or too low costs, and touching bottom, in the same measure."""
    near: float = 1.15
    """A pace within this factor of the wanted one is left alone; our choice, 1.1-1.3."""
    rounds: int = 3
    """Most swings tried from a place; our choice, 1-6."""
    scout_every: int = 4
    """Of so many places down a piece of water one is tried first, the others begin with what served
    it; 1 tries every place alone. Our choice, 1-6: places stand 5 m apart."""
    swing_factor: float = 1.30
    """k in t = L/(k Us) ln[tan(a0/2)/tan(a1/2)]; fitted to our line model in uniform water, range
    1.18-1.46."""
    hang_depth_factor: float = 0.98
    """Depth of the fly at the hang over tip length x sinking speed over current; fitted the same
    way."""
    surface_factor: float = 7.0 / 6.0
    """Surface speed over mean speed: exact for the 1/6-power profile."""
    profile_power: float = 1.0 / 6.0
    """Power of the speed's profile over depth; 1/6 to 1/7 are usual (from memory)."""


def _head_wide() -> dict[str, float]:
    """Return the usual thickness of heads by family [m]; of their usual weight, density 0.85."""
    return {
        "skagit": 2.7e-3,
        "scandi": 2.1e-3,
        "short belly": 2.0e-3,
        "mid belly": 1.9e-3,
        "long belly": 1.8e-3,
    }


@dataclass(frozen=True, slots=True)
class LineSettings:
    """The line as a body in the water, and how finely its swing is worked out."""

    full: bool = True
    """Whether each swing is worked out with the line in the computed field, or by closed forms."""
    head_wide_m: dict[str, float] = field(default_factory=_head_wide)
    """Diameter of heads by family [m]: 540 grains in 24 ft at density 0.85 make 2.7 mm, 480 in 34
    ft 2.1 mm, 700 in 60 ft 1.9 mm; weights from memory, range +-15 %."""
    running_wide_m: float = 0.9e-3
    """Diameter of running line; from memory, 0.7-1.1 mm."""
    tip_wide_m: float = 0.95e-3
    """Diameter of a sinking tip; our choice, 0.8-1.3 mm: its slope in the current does not depend
    on it, since its weight is set from its sinking speed."""
    floating_tip_wide_m: float = 1.5e-3
    """Diameter of a floating tip; our choice, 1.2-1.8 mm."""
    leader_wide_m: float = 0.38e-3
    """Diameter of the leader; from memory, 0.30-0.45 mm."""
    floating_density: float = 0.85
    """Density of floating line over that of water; from memory, 0.8-0.9."""
    leader_density: float = 1.14
    """Density of nylon over that of water; from memory."""
    fly_mass_kg: float = 0.7e-3
    """Mass of the fly, wet; our choice, 0.3-2 g."""
    fly_heavy_kg: float = 0.45e-3
    """What the fly weighs under water; our choice, 0.1-1.5 g."""
    fly_area_m2: float = 3.0e-4
    """Drag area of the fly (Cd A); our choice, 1e-4 to 6e-4."""
    skin_drag: float = 0.015
    """Drag along the line on its skin, pi d; from memory, 0.005-0.02."""
    viscosity: float = 1.4e-6
    """Kinematic viscosity [m2/s] at about 7 C; from memory."""
    running_link_m: float = 1.6
    """Length of links of running line; our choice, checked by halving them."""
    head_link_m: float = 1.2
    """The same for head and leader."""
    tip_link_m: float = 0.6
    """The same for the tip."""
    step_s: float = 0.05
    """Time step; our choice, checked by halving it."""
    longest_s: float = 60.0
    """No swing is followed longer: such water is too slow to swing. Our choice, 45-90."""
    record_s: float = 0.5
    """Time between points of a path."""
    tip_height_m: float = 1.2
    """Height of the rod tip above the feet, held low through the swing; our choice, 0.6-2."""
    rod_lag_s: float = 1.0
    """How quickly the rod follows the line; our choice, 0.5-2."""
    mend_m: float = 0.0
    """Sagitta of the first mend, up the current; our choice, 0-3."""


@dataclass(frozen=True, slots=True)
class PaceSettings:
    """How fast one fishes a run; common practice, no published source, the angler's to change."""

    step_winter_m: float = 4.0 * FOOT_M
    """Step between casts in winter: 3-5 ft."""
    step_summer_m: float = 6.5 * FOOT_M
    """Step between casts in summer: 5-8 ft."""
    hang_s: float = 6.5
    """Wait at the end of the swing: 5-8 s."""
    cast_s: float = 20.0
    """Set-up, cast and mend."""
    strip_s_per_m: float = 0.5 / FOOT_M
    """Half a second for each foot of running line stripped in."""
    swing_s: float = 30.0
    """Swing taken where none could be worked out; common practice, 20-40 s."""
    cast_m: float = 60.0 * FOOT_M
    """Cast taken where none could be worked out."""
    held_m: float = 50.0 * FOOT_M
    """Rod, head, tip and leader, which are not stripped in: about the shortest full cast."""
    clear_m: float = 4.0 * FOOT_M
    """Clarity from which on the step is the season's: three to four feet."""
    between_min: float = 15.0
    """Minutes from one run to the next; our choice, 5-40."""


@dataclass(frozen=True, slots=True)
class AnglerSettings:
    """All settings of the angler's floor.

    `season` rules the pace of runs; `clarity_m` is how far one sees into the water [m], at every
    flow, or `clarity_law` says it by flow: alpha and beta of clarity = alpha flow^-beta.
    """

    season: Season = Season.WINTER
    clarity_m: float = 4.0 * FOOT_M
    clarity_law: tuple[float, float] | None = None
    clarity_told: bool = False
    """Whether somebody said how far one sees; else cards say that it was taken."""

    wading: WadingSettings = field(default_factory=WadingSettings)
    hazards: HazardSettings = field(default_factory=HazardSettings)
    room: RoomSettings = field(default_factory=RoomSettings)
    stations: StationSettings = field(default_factory=StationSettings)
    swing: SwingSettings = field(default_factory=SwingSettings)
    line: LineSettings = field(default_factory=LineSettings)
    wind: Wind = field(default_factory=Wind)
    flies: tuple[FlyRow, ...] = FLIES
    pace: PaceSettings = field(default_factory=PaceSettings)
