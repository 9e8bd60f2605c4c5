"""Settings of the angler stage, each with its source or its range."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.angler.casts import CASTS, CastShape
from reachmap.angler.fly import FLIES, FlyRow
from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.plan_settings import PlanSettings
from reachmap.angler.wading_settings import WadingSettings
from reachmap.angler.wind import Wind
from reachmap.base.units import FOOT_M
from reachmap.base.words import Cast, Season
from reachmap.gauge.flow_clarity import FlowClarity
from reachmap.markup.config.own_numbers import (
    ClarityNumbers,
    LineNumbers,
    PaceNumbers,
    RoomNumbers,
    SwingNumbers,
)


@dataclass(frozen=True, slots=True)
class RoomSettings(RoomNumbers):
    """Room behind the angler; lengths from memory in feet, all of them the angler's to change."""

    hang_share: float = 0.12
    """How far behind the tip a hanging line bellies in the static roll, over its length up to twice
    the tip's height; from memory."""
    rays: int = 15
    """Number of rays in the sweep; our choice, 7-31."""
    look_m: float = 40.0
    """Length of the rays behind; our choice, more than the longest overhead cast needs."""
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
    """Metres nearer to the water that justify a metre of wading; our choice, 3-12: no deeper than
    the cast needs."""
    abreast_m: float = 6.0
    """Water within so many metres of a place along the river, or one and a half cells if that is
    more, gives the current abreast of it; our choice, 4-12."""
    rise_high_m: float = 1.5
    """Highest ground above the water one casts from; our choice, 1-2.5."""
    angles_deg: tuple[float, ...] = (-15.0, 0.0, 12.0, 24.0, 36.0, 48.0, 60.0, 72.0)
    """Cast angles tried, down from straight across; negative ones are up the current."""
    beyond_m: float = 3.5
    """How far beyond the far edge of the strip the fly lands, so that it is down and round before
    it swims it; by trial on a made river, 1-5."""


@dataclass(frozen=True, slots=True)
class SwingSettings(SwingNumbers):
    """The swing that is wanted and how it is worked out."""

    swim_low_s: float = 6.0
    """A place from which the fly swims its water for less is left out; our choice, 3-10."""
    swim_share_low: float = 0.25
    """A place from which it swims its water for less than this share of the swing is left out too:
    there the line only drags it out. Our choice, 0.15-0.4."""
    hang_deg: float = 10.0
    """The swing ends when the line points this near straight down the current; our choice, 5-15."""
    share_depth_low_m: float = 0.1
    """In thinner water the share of the depth the fly reaches is meaningless; our choice,
    0.05-0.2."""
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
class LineSettings(LineNumbers):
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
    fly_area_m2: float = 3.0e-4
    """Drag area of the fly (Cd A); our choice, 1e-4 to 6e-4."""
    skin_drag: float = 0.015
    """Drag along the line on its skin, pi d; from memory, 0.005-0.02."""
    viscosity: float = 1.4e-6
    """Kinematic viscosity [m2/s] at about 7 C; from memory."""
    running_link_m: float = 1.6
    """Length of links of running line; our choice, checked by halving them."""
    head_link_m: float = 1.2
    """Length of links of head and leader; as above."""
    tip_link_m: float = 0.6
    """Length of links of the tip; as above."""
    length_step_m: float = 0.5
    """Lines are made in lengths of this step, so that like casts share one; our choice, 0.2-1."""
    touch_m: float = 0.03
    """The fly touches the bottom within this of it; our choice, 0.01-0.06: half its width."""
    step_s: float = 0.1
    """Time step; our choice, 0.05-0.1, checked against a quarter of it."""
    longest_s: float = 60.0
    """No swing is followed longer: such water is too slow to swing. Our choice, 45-90."""
    record_s: float = 0.5
    """Time between points of a path."""
    tip_height_m: float = 1.2
    """Height of the rod tip above the feet, held low through the swing; our choice, 0.6-2."""
    tip_low_m: float = 0.3
    """The rod tip is held no lower than this above the water, however deep one stands; our choice,
    0.1-0.6."""
    fed_s: float = 3.0
    """Line that is fed goes out within this after landing [s]; our choice, 2-5."""
    rod_lag_s: float = 1.0
    """How quickly the rod follows the line; our choice, 0.5-2."""


@dataclass(frozen=True, slots=True)
class PaceSettings(PaceNumbers):
    """How fast one fishes a run; common practice, no published source, the angler's to change."""

    swing_s: float = 30.0
    """Swing taken where none could be worked out; common practice, 20-40 s."""
    cast_m: float = 60.0 * FOOT_M
    """Cast taken where none could be worked out."""
    held_m: float = 50.0 * FOOT_M
    """Rod, head, tip and leader, which are not stripped in: about the shortest full cast."""
    clear_m: float = ClarityNumbers().clear_m
    """Clarity from which on the step is the season's: three to four feet."""


@dataclass(frozen=True, slots=True)
class AnglerSettings:
    """All settings of the angler stage.

    `season` rules the pace of runs; `clarity_m` is the visibility in the water [m] at every flow,
    unless `clarity_law` gives it by flow.
    """

    season: Season = Season.WINTER
    clarity_m: float = ClarityNumbers().clarity_m
    clarity_law: FlowClarity | None = None
    clarity_given: bool = False
    """Whether `clarity_m` was entered by the user; else cards say that it was assumed."""

    wading: WadingSettings = field(default_factory=WadingSettings)
    hazards: HazardSettings = field(default_factory=HazardSettings)
    room: RoomSettings = field(default_factory=RoomSettings)
    stations: StationSettings = field(default_factory=StationSettings)
    swing: SwingSettings = field(default_factory=SwingSettings)
    plan: PlanSettings = field(default_factory=PlanSettings)
    line: LineSettings = field(default_factory=LineSettings)
    wind: Wind = field(default_factory=Wind)
    flies: tuple[FlyRow, ...] = FLIES
    interception: InterceptionSettings = field(default_factory=InterceptionSettings)
    pace: PaceSettings = field(default_factory=PaceSettings)
