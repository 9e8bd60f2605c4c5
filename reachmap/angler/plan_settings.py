"""Numbers of the swing plan: what it is judged by, what is tried, and which gear it takes."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.base.units import FOOT_M
from reachmap.markup.config.own_numbers import PlanNumbers

INCH_M = FOOT_M / 12.0


def _turns_over() -> dict[str, float]:
    """Return the fastest sinking tip each family of heads turns over, by label [m/s]."""
    return {
        "skagit": 1.0,
        "scandi": 3.6 * INCH_M,
        "short belly": 3.6 * INCH_M,
        "mid belly": 1.8 * INCH_M,
        "long belly": 1.8 * INCH_M,
    }


@dataclass(frozen=True, slots=True)
class PlanSettings(PlanNumbers):
    """The plan of a swing; costs are in shares of the strip."""

    pace_fade: float = 1.5
    """A fly is worth nothing from this many times the quickest wanted pace on; our choice,
    1.3-2."""
    bottom_quality: float = 0.5
    """Worth of a fly at the bottom before the cost of touching; our choice, 0.3-0.8: it is
    where fish lie."""
    last_share: float = 0.25
    """Share of the swim in the strip that is its last part; our choice, 0.15-0.35."""
    drag_cost: float = 1.5
    """Cost of dragging over the bottom all through the strip; our choice, 1-3."""
    tick_cost: float = 0.1
    """Cost of touching all through the last part; our choice, 0.05-0.3: a tick or two at the
    end says that the depth is right."""
    length_cost: float = 0.25
    """Cost of the longest cast; our choice, 0.1-0.4."""
    room_cost: float = 1.0
    """Cost of a cast without room behind; our choice, 0.5-2."""
    square_cost: float = 0.06
    """Extra cost of a cast straight across over one 45 degrees down; our choice, 0-0.15: it
    bellies more and is held worse, common practice."""
    act_cost: float = 0.025
    """Cost of each mend, of a rod held high, and of feeding line; our choice, 0.01-0.05."""
    blind_cost: float = 0.5
    """Cost of a swing over unknown water; our choice, 0.3-1."""
    tip_gain: float = 0.02
    """Gain in worth from which a heavier tip is taken; our choice, 0.01-0.05."""
    tip_effort: float = 0.01
    """Cost per step in weight above the lightest tip: it is more work to lift; our choice,
    0-0.03."""
    tip_run_m: float = 80.0
    """Length of water along the river that one tip is kept on for [m]; our choice, 50-200:
    tips are not changed every few casts."""
    tips_tried: int = 4
    """So many tips are worked out for a piece of water, those whose depth at the hang by the closed
    form comes nearest to the wanted one; our choice, 3-7."""
    own_depth_m: float = 0.2
    """How deep leader and fly hang below a floating tip, for that choice [m]; our line model's, 0.1
    to 0.3."""
    longer_m: tuple[float, ...] = (-2.5, 2.5)
    """Lengths tried beside the cast that lands just beyond the strip [m]; our choice."""
    mends: tuple[tuple[tuple[float, float], ...], ...] = (
        ((0.0, 1.0),),
        ((4.0, 1.0),),
        ((0.0, 1.0), (4.0, 1.0)),
        ((0.0, 1.0), (4.0, 1.0), (8.0, 1.0)),
        ((0.0, -1.0),),
    )
    """Mends tried: seconds after landing, and how many bows of the usual size up the current;
    common practice, no published source."""
    fed_m: float = 1.5
    """Line fed after landing, where that is tried [m]; our choice, 1-3."""
    high_m: float = 2.2
    """Rise of the rod tip when the rod is held high [m]; our choice, 1.5-3."""
    step_s: float = 0.125
    """Time step while looking for a plan: depths are within 2 cm and paces within 3 % of the finer
    step's, in two fifths of the time. Our choice, 0.05-0.15."""
    scout_every: int = 8
    """Of so many places down a piece of water one is tried in full; our choice, 3-10: places stand
    5 m apart."""
    follow_every: int = 2
    """Of so many of the other places one looks for its own plan, beginning with the scout's; the
    rest do as the nearest of them does. Our choice, 1-3."""
    start_rods: float = 1.0
    """Line outside the rod tip at the first cast of a run, over the rod's length; common practice,
    0.5-1.5."""
    short_rods: float = 3.5
    """A cast up to so many times the rod's length is short: a rod held high then leaves slack that
    lets a fish turn. Our choice, 2.5-4; the habit is common practice."""
    pull_m: float = 2.5 * FOOT_M
    """Line added by each pull off the reel; common practice, 2-3 ft."""
    serves_low: float = 0.25
    """A plan whose swim is worth less than this share of the strip does not serve; our choice,
    0.15-0.35."""
    second_low: float = 0.35
    """A second pass is worth it from this share of the outer strip on; our choice, 0.25-0.5."""
    sees_share: float = 1.0
    """Distance a fish moves to a fly, over the visibility; our choice, 0.5-1.5: it
    bounds the gap between two arcs."""
    turns_over: dict[str, float] = field(default_factory=_turns_over)
    """Fastest tip that a head of a family turns over, by its label [m/s]; common practice, no
    published source: sink tips go on skagit heads, light ones on scandi heads, bellies carry
    floating and intermediate ones."""
    casts_per_rod: float = 5.5
    """Comfortable cast over the rod's length; common practice, 5-6: 70 ft with 13 ft."""
    heavy_rod_m: float = 0.3
    """Extra rod length wanted for a heavy tip [m]; our choice, 0-0.6."""
    heavy_sink_m_s: float = 5.0 * INCH_M
    """A tip that sinks quicker than this, by its label, is heavy [m/s]; our choice, 4-6 in/s."""
    open_rod_m: float = 0.3
    """Extra rod length wanted in the open [m]; our choice, 0-0.6."""
    open_share: float = 1.5
    """A place is open where the room is this many times that of the longest rod's loop; our choice,
    1.3-2."""
    windy_m_s: float = 6.0
    """In such wind the shortest head is cast [m/s]; our choice, 5-8."""
