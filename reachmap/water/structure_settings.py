"""Settings of bed forms, lies and structure, each with its source or range."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reachmap.base.words import Season
from reachmap.markup.defaults import LIE_LIMITS
from reachmap.markup.model import LieLimits

USUAL_WIDTH_M = 30.0
"""Width of the river from which on the lengths below hold; our choice, 28-40."""

LEAST_SHARE = 0.35
"""Lengths shrink on a narrower river, to no less than this share; our choice, 0.3-0.5: a creek ten
metres wide, with buckets of five."""


def width_share(width_m: float) -> float:
    """Return by which share a narrow river's forms are smaller; 1 from the usual width on.

    Notes
    -----
    Forms of the bed go with the size of the channel; boulders do not, nor how deep a hollow or how
    high a stone must be to hold a fish. Set on a made creek 12 m wide, on which a window as wide as
    the river's own showed no bucket at any flow (docs/reading-the-water.md).
    """
    if not width_m > 0:
        return 1.0
    return min(max(width_m / USUAL_WIDTH_M, LEAST_SHARE), 1.0)


@dataclass(frozen=True, slots=True)
class BedFormSettings:
    """The scales at which the bed's form is read [m], on a river of `USUAL_WIDTH_M` or more."""

    near_m: float = 4.0
    """Half the side of the window in which a cell's own height, slope and curvature are fitted; our
    choice, 3-6: two cells about the middle one, so that single stones and noise are smoothed."""
    far_m: float = 16.0
    """The same of the window that gives the bed at large, which a hollow lies below; our choice,
    12-24: wider than a bucket or a slot, narrower than a river."""
    far_cell_m: float = 4.0
    """Size of the cells the larger window is fitted on; our choice, 2-6."""
    along_m: float = 20.0
    across_m: float = 10.0
    """How far up and down the flow, and across it, the bed must rise again for a hollow to be
    closed; our choice, 12-30 and 6-14."""
    stone_m: float = 8.0
    """How far about it the bed must fall for a lump to be a boulder; our choice, 4-9: a lump that
    is wider than this is a bar. With 6 m only the middle of a boulder seven metres wide was one."""
    drop_half_m: float = 4.0
    drop_out_m: float = 10.0
    """A drop-off falls within this on either side of its middle, and shelf and foot reach out to
    that; our choice, 3-5 and 8-14."""
    drop_flat_share: float = 0.4
    """Shelf and foot may slope by this share of what the drop does; our choice, 0.2-0.5."""
    ridge: float = 1e-3
    """Weight, by cell, that keeps a slope or curvature at nothing where too few cells tell it; our
    choice, 0.0001-0.01."""

    def on_river(self, width_m: float, cell_m: float) -> BedFormSettings:
        """Return the scales on a river of a width [m], on cells of a size [m].

        The windows shrink with the width, the near one to no less than two cells about the middle
        one; the looks about a hollow by the square root of that, since pools are longer for their
        width where the river is small. Our choice.
        """
        share = width_share(width_m)
        less = share**0.5
        return replace(
            self,
            near_m=max(self.near_m * share, min(self.near_m, 2.0 * cell_m)),
            far_m=self.far_m * share,
            far_cell_m=self.far_cell_m * share,
            along_m=self.along_m * less,
            across_m=self.across_m * less,
        )


@dataclass(frozen=True, slots=True)
class LieSettings:
    """Where a fish that comes by would hold, as odds by cell.

    `limits` are the season's for lies, which are not those for swing water: a fish may lie in water
    too slow or too deep to swing a fly through.
    """

    limits: LieLimits = LIE_LIMITS[Season.WINTER]
    depth_soft_m: float = 0.1
    """Odds by depth turn from one in four to three in four over about twice this; our choice,
    0.05-0.25."""
    speed_soft_m_s: float = 0.1
    """The same by speed near the bed; our choice, 0.05-0.2."""
    near_bed_m: float = 0.15
    """Height above the bed at which a fish holds; our choice, 0.1-0.2: half the depth of its
    body."""
    plain_odds: float = 0.04
    """Odds of plain bed whose depth and speed suit; our choice, 0.01-0.1."""
    hollow_low_m: float = 0.2
    """How far a closed hollow lies below the bed at large where it is as good as none or as a whole
    one; our choice, 0.15-0.3."""
    hollow_soft_m: float = 0.05
    """How soft that limit is; our choice, 0.03-0.1."""
    hollow_worth: float = 0.8
    """Odds in a hollow, over those of the best lie; our choice, 0.6-0.95."""
    hollow_shelter: float = 0.5
    """Share of the speed near the bed that a hollow keeps off, beyond what depth does; our choice,
    0.3-0.6: the current does not follow the bed down."""
    lee_worth: float = 0.9
    """Odds in slack water beside quick water; our choice, 0.7-0.95."""
    slack_high: float = 0.5
    """Water is slack where it runs at no more than this share of what its depth would carry at the
    slope of the quickest water across from it; our choice, 0.4-0.6."""
    slack_soft: float = 0.07
    """How soft that limit is; our choice, 0.03-0.1."""
    quick_near_m: float = 6.0
    """How near the quicker water must be; our choice, 4-10."""
    quick_low_m_s: float = 0.4
    """Least speed of the quicker water; our choice, 0.3-0.6: slower water brings no fish along."""
    quick_soft_m_s: float = 0.08
    """How soft that limit is; our choice, 0.05-0.15."""
    shelter_m: float = 60.0
    """Greatest distance upstream of the bank or boulder that shelters a lie; our choice, 30-100: an
    eddy behind a point is five to ten times as long as the point stands out (from memory)."""
    open_lee: float = 0.25
    """Worth of slack water without shelter upstream; our choice, 0-0.5."""
    edge_low_m: float = 0.3
    """Least fall of a drop-off that counts; our choice, 0.25-0.5."""
    known_low: float = 0.62
    """Least confidence of the bed for its forms to count; our choice, 0.5-0.75: a form alone has
    0.25, or 0.4 beneath a measured surface, and its pools are a rule's; soundings that halve the
    error give 0.62."""
    known_soft: float = 0.03
    """How soft that limit is; our choice, 0.01-0.06."""
    mark_m: float = 5.0
    """How far about the angler's own mark fish lie; our choice, 3-8: a phone's place is off by as
    much."""
    edge_worth: float = 0.5
    """Odds along the foot of a drop-off; our choice, 0.3-0.7."""


@dataclass(frozen=True, slots=True)
class StructureSettings:
    """What counts as a structure, on a river of `USUAL_WIDTH_M` or more."""

    rise_low_m: float = 0.25
    """How far the bed must rise again, on both sides, out of a hollow; our choice, 0.2-0.4."""
    below_low_m: float = 0.2
    """How far a hollow must lie below the bed at large; our choice, 0.15-0.3: on the true bed of a
    made river with bends shallower ones are ripples of gravel."""
    follow_share: float = 0.4
    """A hollow is followed outward to this share of both; our choice, 0.3-0.7."""
    hollow_area_m2: float = 30.0
    """Least area of a hollow; our choice, 16-60."""
    slot_length_m: float = 20.0
    slot_ratio: float = 3.0
    """Least length of a slot, and least length over width; our choice, 15-40 and 2.5-5."""
    span_share: float = 0.5
    """A hollow that spans at least this share of the water is a pool, no bucket; our choice,
    0.4-0.7."""
    ledge_slope: float = 0.09
    """Least fall of the bed over distance above a ledge pool for a step; our choice, 0.07-0.2: over
    a window of ten metres a sheer step of half a metre falls by 0.075."""
    ledge_look_m: float = 16.0
    """How far above a pool its ledge is looked for; our choice, 8-24."""
    drop_length_m: float = 12.0
    """Least length of a drop-off; our choice, 8-25."""
    drop_apart: float = 0.3
    """A drop-off with a larger share of its cells against a hollow is that hollow's side; our
    choice, 0.2-0.5."""
    stone_low_m: float = 0.3
    """Least height of a boulder above the bed about it; our choice, 0.25-0.5."""
    lee_m: float = 12.0
    """How far below a boulder its lee is looked for; our choice, 6-16: three to five times its
    width (from memory)."""
    lee_area_m2: float = 12.0
    """Least area of a boulder's lee; our choice, 8-24."""
    lee_slack: float = 0.7
    """Water in a lee runs at no more than this share of what its depth would carry; our choice,
    0.5-0.8."""
    lee_depth_low_m: float = 0.3
    """Least depth of a lee; our choice, 0.2-0.5."""
    garden_stones: int = 4
    garden_m: float = 6.0
    """A rock garden holds at least so many boulders, each within twice this of the next; our
    choice, 3-6 and 4-10."""
    point_m: float = 4.0
    """Least width of the slack water below a point; our choice, 3-8: less is the bank's rim."""
    eddy_area_m2: float = 60.0
    """Least area of it; our choice, 30-150."""
    known_share: float = 0.6
    """Least share of a structure that is so known; our choice, 0.5-0.8."""
    dem_low: float = 0.87
    """Confidence from which the ground was seen by a terrain model; our choice, 0.86-0.9: soundings
    give 0.85 at most, a terrain model 0.9."""
    swing_near_m: float = 8.0
    """How far from the lie the water may be through which the fly is swung; our choice, 4-12."""
    mark_near_m: float = 12.0
    """How near a structure must be to the angler's mark of that kind to be what was marked; our
    choice, 8-20."""
    mark_flow: float = 1.3
    """A mark holds fish within this factor of the flow it was noted at; our choice, 1.15-1.6."""
    same_m: float = 6.0
    """How far apart one structure may lie from one flow to the next; our choice, 2-10."""
    lie_odds_low: float = 0.15
    """A structure whose best place holds a fish with lesser odds holds none at that flow; our
    choice, 0.05-0.3."""

    def on_river(self, width_m: float) -> StructureSettings:
        """Return the rules on a river of a width [m].

        Areas shrink with the width, how far out a point stands and how long a slot is with its
        square root. Our choice.
        """
        share = width_share(width_m)
        return replace(
            self,
            hollow_area_m2=self.hollow_area_m2 * share,
            eddy_area_m2=self.eddy_area_m2 * share,
            point_m=self.point_m * share**0.5,
            slot_length_m=self.slot_length_m * share**0.5,
        )
