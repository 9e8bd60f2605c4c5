"""Settings of the stages that can be set in reach.toml; each is defined here and only here.

The settings of the stages inherit from these classes, so that one field is at once a setting, a
key of reach.toml with its check, a row of the docs and a line of a new folder's reach.toml.
Limits are our choice, wider than the sensible range.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, TypeVar

from reachmap.base.units import FACTORS, FOOT_M
from reachmap.base.words import UnitSystem
from reachmap.markup.config.kinds import Number
from reachmap.markup.quantities import KINDS

T = TypeVar("T")

SECTIONS: Mapping[str, str] = {
    "clarity": "how far one sees into the water, and what that does",
    "runs": "what counts as a run and as prime water",
    "suits": "how gradually the season's limits set in: water just beyond one suits a little less",
    "lane": "the travel lane: what a fish pays for and what it cannot do",
    "wading": "wading: published rules in force, your own limits on top, and the doubt",
    "casting": "room behind: the caster and the loop",
    "swing": "the swing you want",
    "pace": "how fast you fish a run",
    "days": "which day is worth most: how far one sees, and where the river is heading",
}
"""Sections of these numbers, in the order they are shown."""

_PRACTICE, _MEMORY, _OWN = "common practice", "from memory", "our choice"


@dataclass(frozen=True, kw_only=True)
class Tunable(Number):
    """A setting of a stage that can be set in reach.toml.

    Parameters
    ----------
    name
        Section and key, like ``lane.effort``.
    source
        Source of the default, with its range.
    usual
        Default [SI]; not finite: no limit.
    scale
        SI size of one unit, where the number has no named unit.
    off_below, off_above
        Values beyond which a margin of safety is off [SI]; NaN where the number is no margin.
    """

    name: str
    source: str
    usual: float
    scale: float = 1.0
    off_below: float = math.nan
    off_above: float = math.nan
    commented: bool = True

    @property
    def section(self) -> str:
        """Return its section."""
        return self.name.split(".")[0]

    @property
    def key(self) -> str:
        """Return its key."""
        return self.name.split(".")[1]

    def read(self, value: Any, units: UnitSystem) -> float:
        """Return the number [SI]."""
        return super().read(value, units) * self.scale

    def shown(self, value: Any) -> str:
        """Return the number as written in reach.toml."""
        return super().shown(value / self.scale)


def _own(  # noqa: PLR0913
    usual: float,
    unit: str,
    name: str,
    limits: tuple[float, float],
    meaning: str,
    source: str,
    *,
    example: str = "",
    scale: float = 1.0,
    **off: Any,
) -> Any:
    """Return a pydantic field for a tunable; its default is in `unit`, its limits are SI."""
    quantity = next((one for one, known in KINDS.items() if unit in known), None)
    value = usual * (FACTORS[unit] if unit else scale)
    low, high = limits
    tunable = Tunable(
        meaning, example, name=name, low=low, high=high, source=source, unit=unit,
        quantity=quantity, scale=scale, usual=value, **off,
    )  # fmt: skip
    return field(default=value, metadata={"tunable": tunable})


# fmt: off
@dataclass(frozen=True, slots=True)
class ClarityNumbers:
    """How far one sees into the water, and what that does [m]."""

    clarity_m: float = _own(4, "ft", "clarity.see", (0.02, 20), "how far one sees now", _OWN)
    clear_m: float = _own(4, "ft", "clarity.good", (0.2, 6), "from here on clear enough: 3-4 ft", _PRACTICE)
    coloured_depth_m: float = _own(0.3, "m", "clarity.coloured_depth", (0.05, 1.5), "least depth of fish in coloured water: 1-3 ft along the edge", _PRACTICE)


@dataclass(frozen=True, slots=True)
class RunNumbers:
    """What counts as a run and as prime water."""

    length_high_m: float = _own(183, "m", "runs.longest", (30, 500), "longest stretch of one run: 200 yards", _PRACTICE)
    run_length_m: float = _own(36.6, "m", "runs.shortest", (5, 100), "shorter water is no run: 40 yards", "our choice, 25-45 m")
    prime_length_m: float = _own(91, "m", "runs.prime_length", (20, 400), "least length of prime water: 100 yards", _PRACTICE)
    prime_score: float = _own(60, "", "runs.prime_score", (1, 100), "least score of prime water", "our choice, 50-75")
    shape_score: float = _own(30, "", "runs.in_shape", (1, 100), "least score of a run in shape", "our choice, 25-45")
    cast_high_m: float = _own(27, "m", "runs.reach", (5, 60), "water farther from a bank is out of reach: 90 ft", _PRACTICE)


@dataclass(frozen=True, slots=True)
class SuitNumbers:
    """How gradually the season's limits set in: standard deviation of a normal curve at each end."""

    thin_m: float = _own(0.12, "m", "suits.shallow", (0, 0.5), "softness of the least depth: so far short of it water suits by a sixth", "our choice, 0.05-0.2 m: a quarter of the limit's own range")
    deep_m: float = _own(0.25, "m", "suits.deep", (0, 1), "softness of the greatest depth", "our choice, 0.1-0.4 m: a quarter of the limit's own range")
    slow_m_s: float = _own(0.06, "m/s", "suits.slow", (0, 0.3), "softness of the least speed", "our choice, 0.03-0.1 m/s: a quarter of the limit's own range")
    quick_m_s: float = _own(0.1, "m/s", "suits.quick", (0, 0.5), "softness of the greatest speed", "our choice, 0.05-0.2 m/s: a quarter of the limit's own range")
    line: float = _own(0.4, "", "suits.line", (0.2, 0.8), "odds from which water is claimed, and at which its outline is drawn", "by trial against a made river's true bed, 0.35-0.6")
    bed_quick_m_s: float = _own(math.inf, "m/s", "suits.bed_speed", (0.1, 3), "greatest speed near the bed, at the height of `suits.bed_height`", "yours to say", example='"2 ft/s"')
    bed_height_m: float = _own(0.1, "m", "suits.bed_height", (0.02, 0.5), "height over the bed at which that speed counts", "our choice, 0.05-0.2 m")


@dataclass(frozen=True, slots=True)
class LaneNumbers:
    """What a fish pays for and what it cannot do."""

    effort_per_m_s: float = _own(1.5, "", "lane.effort", (0.2, 8), "k in effort ~ exp(k x swimming speed), seconds a metre", "our choice, 1-3; form and 1/k as best ground speed: Castro-Santos 2005, abstract read")
    depth_low_m: float = _own(0.18, "m", "lane.least_depth", (0.03, 0.8), "least depth a fish passes", "from memory: Thompson 1972")
    speed_high_m_s: float = _own(4.18, "m/s", "lane.most_speed", (0.5, 8), "speed a fish can sustain", "from memory: Bell 1986")
    cover_depth_m: float = _own(0.9, "m", "lane.cover_depth", (0.1, 4), "depth that covers a fish in clear water: 3 ft", "common practice, 0.5-1.5 m")
    exposure: float = _own(9, "", "lane.exposure", (0, 100), "how many times more a metre costs in the thinnest water", "our choice, 4-20")
    swim_height_m: float = _own(0.25, "m", "lane.swim_height", (0.02, 1), "height over the bed at which a fish swims up: the speed there is what it pays for", "our choice, 0.1-0.4 m")
    brush_pull: float = _own(2, "", "lane.brush", (0, 50), "what a metre costs more in flooded brush or trees, in times of open water", "our choice, 0.5-5")
    lead_share: float = _own(0.03, "", "lane.lead_share", (0, 0.5), "a side channel with less of the flow leads no fish in", "our choice, 0.01-0.1")


@dataclass(frozen=True, slots=True)
class LimitNumbers:
    """The most that is allowed: depth x speed [m2/s], depth [m], speed [m/s]; infinite: nothing."""

    product_m2_s: float = _own(math.inf, "ft2/s", "wading.product", (0.05, 2), "your own limit of depth times speed, on top of the rules", "yours to say", example='"8 ft2/s"')
    depth_m: float = math.inf
    speed_m_s: float = _own(math.inf, "ft/s", "wading.speed", (0.1, 3), "your own limit of speed, on top of the rules", "yours to say", example='"2.5 ft/s"')


@dataclass(frozen=True, slots=True)
class WadingNumbers:
    """How water grades for a person on foot."""

    mass_kg: float = _own(math.nan, "lb", "wading.mass", (25, 180), "your body mass; else 20 kg/m2 times height squared, a light build", "our choice, 18.5-30 kg/m2", example='"150 lb"')
    depth_share_high: float = _own(0.5, "", "wading.depth_share", (0.2, 0.7), "deepest water over your height", "our choice, 0.4-0.5; fork of the legs at about 0.47, from memory", off_above=0.5)
    easy_chance: float = _own(0.002, "", "wading.easy_chance", (0.0001, 0.1), "chance of being beyond a limit under which water is easy", "our choice, 0.001-0.02", off_above=0.02)
    careful_chance: float = _own(0.0125, "", "wading.careful_chance", (0.0001, 0.2), "the same for careful", "our choice, 0.005-0.05: one place in eighty", off_above=0.05)
    easy_share: float = _own(0.6, "", "wading.easy_share", (0.2, 1), "above this share of a limit as mapped nothing is easy", "our choice, 0.5-0.7")
    doubt: float = _own(1, "", "wading.doubt", (0, 4), "times the map's measured errors reckoned with; less than 1 is marked on every page", "our choice, 1-2", off_below=1)
    speed_doubt: float = _own(0.2, "", "wading.speed_doubt", (0, 1), "share of the quickest water nearby that the speed may be off", "by trial on made rivers, 0.1-0.3", off_below=0.1)
    place_error_m: float = _own(3, "m", "wading.place_error", (0, 15), "how far off a drawn depth may lie", "our choice, 2-4 m", off_below=2)
    gauge_error: float = _own(0, "", "wading.gauge_error", (0, 0.5), "share of the flow the river may carry above what is read; 0.25 is taken where the folder has no gauge", _OWN)
    brush_depth_high_m: float = _own(0.45, "m", "wading.brush_depth", (0, 1.2), "deeper water in brush is out of bounds", "our choice, 0.3-0.5 m: knee deep", off_above=0.5)
    hazard_reach_m: float = _own(4, "m", "wading.hazard_reach", (0, 50), "keep so far from a drawn hazard", "our choice, 2-8 m", off_below=2)
    drift_high_m: float = _own(25, "m", "wading.drift", (0, 200), "water that drifts into a hazard within this is out of bounds", "our choice, 10-50 m: at 1 m/s it leaves 25 s", off_below=10)
    below_m: float = _own(300, "ft", "wading.below", (10, 1000), "how far down the current to look", "our choice: 100 yards")


@dataclass(frozen=True, slots=True)
class RoomNumbers:
    """The caster and the loop."""

    hand_m: float = _own(5.5, "ft", "casting.hand", (0.5, 2.5), "hands above the feet", _MEMORY)
    butt_m: float = _own(1.5, "ft", "casting.butt", (0, 1.5), "rod below the upper hand", _MEMORY)
    back_m: float = _own(0.5, "ft", "casting.back", (-1, 2), "hands behind the feet at the key position", _MEMORY)
    anchor_m: float = _own(2, "ft", "casting.anchor", (0, 6), "line meets the water so far in front", _MEMORY)
    overhang_short_m: float = _own(2, "ft", "casting.overhang_short", (0, 5), "running line outside the tip ring, short heads", _MEMORY)
    overhang_long_m: float = _own(3, "ft", "casting.overhang_long", (0, 5), "the same with long heads", "from memory, 3-4 ft")
    long_head_m: float = _own(30, "ft", "casting.long_head", (3, 30), "from this length on a head is long", _OWN)
    margin_m: float = _own(3, "ft", "casting.margin", (0, 10), "room to spare behind the loop", _MEMORY)
    clearance_m: float = _own(2, "ft", "casting.clearance", (0, 5), "line stays so far above cover", _MEMORY)
    cover_low_m: float = _own(0.6, "m", "casting.grass", (0, 2), "lower cover may be brushed", "our choice, 0.3-0.8 m")
    doubt: float = _own(0.2, "", "casting.doubt", (0, 1), "share by which every reach may be off", _OWN)
    sweep_deg: float = _own(15, "", "casting.sweep", (0, 60), "degrees to either side the loop may lie in", _MEMORY)
    sag_s: float = _own(0.7, "", "casting.sag", (0, 1.2), "seconds the end of a line straightened behind falls before it is drawn forward", "our choice, 0.5-0.9: it sags 2.4 m")
    skagit_rods: float = _own(2, "", "casting.skagit_rods", (1, 6), "longest skagit head over the rod's length", "common practice, 1.5-2")
    scandi_rods: float = _own(3, "", "casting.scandi_rods", (1, 6), "longest scandi head over the rod's length", "common practice, 2.5-3")
    belly_rods: float = _own(4.5, "", "casting.belly_rods", (1, 8), "longest belly over the rod's length", "common practice, 3.5-4.5")


@dataclass(frozen=True, slots=True)
class SwingNumbers:
    """The swing that is wanted."""

    pace_winter_m_s: float = _own(1.5, "ft/s", "swing.winter_pace", (0.1, 2), "fly's speed across, winter", _PRACTICE)
    pace_summer_m_s: float = _own(2.25, "ft/s", "swing.summer_pace", (0.1, 3), "fly's speed across, summer", _PRACTICE)
    pace_low_m_s: float = _own(0.25, "m/s", "swing.slowest", (0.05, 1.5), "slowest that still fishes, winter", "our choice, 0.15-0.3 m/s")
    pace_high_m_s: float = _own(0.6, "m/s", "swing.quickest", (0.1, 3), "quickest that still fishes, winter", "common practice: a slow walk")
    stall_m_s: float = _own(0.12, "m/s", "swing.stall", (0.02, 0.5), "slower than this the fly has stalled", "our choice, 0.08-0.2 m/s")
    depth_share_low: float = _own(0.35, "", "swing.depth_low", (0, 0.95), "share of the depth the fly should reach", "common practice, 0.2-0.6")
    depth_share_high: float = _own(0.85, "", "swing.depth_high", (0.1, 1), "deeper than this share it is about to touch", "our choice, 0.75-0.95")


@dataclass(frozen=True, slots=True)
class LineNumbers:
    """Mend and fly."""

    mend_m: float = _own(1.2, "m", "swing.mend", (0, 4), "bow of one mend as you make it; 0: you never mend", "our choice, 0.5-2 m")
    sink_factor: float = _own(0.88, "", "swing.sink_factor", (0.4, 1.2), "sinking of a whole tip over its label's rate, which is of a short piece", "from memory, 0.8-1")
    fly_mass_kg: float = _own(0.7, "g", "swing.fly_mass", (0, 0.02), "mass of the fly, wet", "our choice, 0.3-2 g")
    fly_heavy_kg: float = _own(0.45, "g", "swing.fly_weight", (0, 0.02), "weight of the fly under water", "our choice, 0.1-1.5 g")


@dataclass(frozen=True, slots=True)
class PlanNumbers:
    """The strip one swims through."""

    band_m: float = _own(8, "m", "swing.strip", (1, 30), "width of water fished on one pass", "our choice, 5-12 m; near water first is common practice")


@dataclass(frozen=True, slots=True)
class PaceNumbers:
    """How fast one fishes a run."""

    step_winter_m: float = _own(4, "ft", "pace.winter_step", (0.2, 6), "step between casts, winter: 3-5 ft", _PRACTICE)
    step_summer_m: float = _own(6.5, "ft", "pace.summer_step", (0.2, 6), "step between casts, summer: 5-8 ft", _PRACTICE)
    hang_s: float = _own(6.5, "", "pace.hang", (0, 120), "seconds you wait at the hang-down: 5-8", _PRACTICE)
    cast_s: float = _own(20, "", "pace.cast", (2, 300), "seconds to set up, cast and mend", _PRACTICE)
    strip_s_per_m: float = _own(0.5, "", "pace.strip", (0, 10), "seconds for each foot of line stripped in", _PRACTICE, scale=1 / FOOT_M)
    between_min: float = _own(15, "", "pace.between", (0, 600), "minutes from one run to the next", "our choice, 5-40")


@dataclass(frozen=True, slots=True)
class DayNumbers:
    """Which day is worth most: how far one sees, and where the river is heading."""

    winter_coloured_m: float = _own(2, "ft", "days.winter_coloured", (0.1, 10), "winter: seeing less than this takes from a day: 1.5-4 ft", _PRACTICE)
    winter_clear_m: float = _own(5, "ft", "days.winter_clear", (0.3, 20), "winter: seeing more than this takes from it: 4-8 ft", _PRACTICE)
    summer_coloured_m: float = _own(4, "ft", "days.summer_coloured", (0.1, 10), "summer: seeing less than this takes from a day: 2-5 ft", _PRACTICE)
    summer_clear_m: float = _own(12, "ft", "days.summer_clear", (0.3, 20), "summer: seeing more than this takes from it: 8-20 ft", _PRACTICE)
    rising_share: float = _own(0.5, "", "days.rising", (0.05, 1), "share left of a day on which the river rises", "common practice, 0.3-0.8")
    steady_share: float = _own(0.8, "", "days.steady", (0.05, 1), "share left of a day on which it neither rises nor drops", "common practice, 0.6-0.95")


# fmt: on


def tunables() -> dict[str, Tunable]:
    """Return every tunable by its name, section by section."""
    groups = (
        ClarityNumbers, RunNumbers, SuitNumbers, LaneNumbers, WadingNumbers, LimitNumbers, RoomNumbers,
        SwingNumbers, LineNumbers, PlanNumbers, PaceNumbers, DayNumbers,
    )  # fmt: skip
    found = {one.name: one for group in groups for _, one in own_in(group)}
    return {name: one for at in SECTIONS for name, one in found.items() if one.section == at}


def with_own(settings: T, numbers: Mapping[str, float]) -> T:
    """Return a stage's settings, nested groups included, with `numbers` [SI] by name applied."""
    changed: dict[str, Any] = {
        name: numbers[one.name] for name, one in own_in(settings) if one.name in numbers
    }
    for each in fields(settings):  # type: ignore[arg-type]
        group = getattr(settings, each.name)
        if is_dataclass(group):
            changed[each.name] = with_own(group, numbers)
    return replace(settings, **changed)  # type: ignore[type-var]


def own_in(settings: Any) -> Iterator[tuple[str, Tunable]]:
    """Yield the tunables among the fields of a group of settings, with the fields' names."""
    for each in fields(settings):
        if "tunable" in each.metadata:
            yield each.name, each.metadata["tunable"]
