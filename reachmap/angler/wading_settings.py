"""How water grades for a person on foot: every number with its source or its range."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.angler.rules import WadeLimit
from reachmap.base.words import WadeRule
from reachmap.markup.config.own_numbers import WadingNumbers


@dataclass(frozen=True, slots=True)
class WadingSettings(WadingNumbers):
    """How water grades for a person on foot; what an angler may set is in `WadingNumbers`.

    Body mass is NaN where not given: `mass_per_height2` then estimates it. `doubt` is the factor on
    all standard errors; less than 1 switches margins off, and every page says so.
    """

    rules: tuple[WadeRule, ...] = (
        WadeRule.TEN,
        WadeRule.FAILURE,
        WadeRule.POOR,
        WadeRule.FLOOD,
        WadeRule.ADVICE,
    )
    """The rules in force; the strictest counts. Poor conditions is the honest default for cobbles,
    cold water and low light; name `normal conditions` instead of it to grade by easier ground."""
    own: WadeLimit = field(default_factory=WadeLimit)
    """The person's own limits on top of the rules; none unless they say so."""
    mass_per_height2: float = 20.0
    """Body mass over height squared [kg/m2]; our choice, 18.5-30: a light build, since light people
    are carried off sooner."""
    guessed_error: float = 0.25
    """`gauge_error` where the folder has no gauge: a guessed flow. Our choice, 0.15-0.4."""
    preview_uncertainty: float = 1.5
    """Factor on `doubt` in the one-dimensional preview, whose speeds are split by depth alone; our
    choice, not measured, 1.3-2."""
    bed_errors: tuple[tuple[float, float], ...] = (
        (0.0, 1.0),
        (0.25, 0.62),
        (0.40, 0.25),
        (0.60, 0.18),
        (0.90, 0.08),
        (1.0, 0.05),
    )
    """Standard error of the bed [m] at confidences, straight between them. Measured on made rivers:
    0.62 m from edges alone (confidence 0.25), 0.24 m with a low-water surface (0.40), 0.145 m with
    60 soundings besides; 0.08 m on ground a lidar saw dry (from memory, 0.05-0.15)."""
    bed_factor: float = 1.5
    """Factor on these errors: a river unlike the made ones errs more. Found by
    trial on made rivers, 1.2-2."""
    depth_error_m: float = 0.03
    depth_error_share: float = 0.3
    """Error of the depth that the flow model adds: a constant and a share of the depth. Found by
    trial on made rivers, 0.02-0.1 m and 0.1-0.4."""
    deep_share: float = 1.0
    deep_near_m: float = 5.0
    """Where the bed was never seen: share of the deepest mapped water within a distance that counts
    as error. By trial, 0.3-1 and 5-12 m."""
    deep_low_m: float = 0.05
    """That error is no larger than `bank_slope.bank_depth`, and no less than this
    [m]; our choice, 0.02-0.1."""
    bank_reach_m: float = 4.0
    """Reach over which the slope of ground seen beside the water is taken [m]; by trial, 3-6."""
    bend_uncertainty: float = 0.4
    bend_width_radius: float = 0.2
    """An unseen bed errs by exp(0.4) times more outside of a bend of that width over radius, and by
    as much less inside; by trial, 0.3-0.8 and 0.1-0.3."""
    unsounded: tuple[float, float] = (0.70, 0.85)
    """Confidences between which that share fades: somewhat sounded, and at a sounding itself."""
    place_share: float = 1.0
    """Share of the spread of depth and speed within `place_error_m` that counts as error; by trial,
    0.3-1."""
    speed_error_m_s: float = 0.08
    quick_near_m: float = 20.0
    """Error of the speed: a constant, and `speed_doubt` of the quickest mapped water within a
    distance, since the cell's own speed does not show a tongue beside it. By trial, 0.05-0.15
    and 10-40 m."""
    correlation: float = -0.3
    """Of the errors of depth and speed: deeper than mapped is slower than mapped. By trial, -0.9 to
    0: hardly anything changes."""
    smooth_m: float = 3.0
    """Reach over which chances are averaged before they are cut [m]; our choice, 2-5: a stride or
    two."""
    seen_confidence: float = 0.86
    """From this confidence on ground counts as seen dry by a terrain model; the stage's own 0.90
    less what rounding may do."""
    ends_widths: float = 1.0
    """Water within so many widths of the head and the foot of the reach is unknown: how it enters
    and leaves is assumed there. Our choice, 0.5-2."""
    step_fall_m: float = 0.2
    step_span_m: float = 10.0
    """The lowest water seen falling by so much within so far is a step. By trial on made rivers:
    ledges fall 0.4 to 0.8 m, riffles up to 0.17 m, and the odds were not tried between; 0.15-0.3 m
    and 5-15 m. A fall of 0.2 m can drive a jet of 2 m/s: sqrt(2 g 0.2 m)."""
    step_widths_below: float = 2.0
    step_widths_above: float = 0.5
    """Water within so many widths of a step is unknown. By trial: to 1.7 widths below ledges the
    map missed quick water, with 1 width 0.7 % was let through by a stale gauge, from 1.5 none;
    1.5-3. Above, since a lip that lies aslant begins farther up on one side: our choice, 0.3-1."""
    brush_slowing_high: float = 2.0
    """In brush or trees the water is taken to run up to this much quicker than mapped: their drawn
    edge is rough, and open water beside them runs on. About the ratio of their Manning's n to that
    of gravel."""
    sounded_low: float = 0.7
    """Confidence from which water is graded without a terrain model: close to soundings. Our
    choice, 0.65-0.8."""
    unsure_low: float = 0.15
    """Confidence below which the grade is unknown; our choice, 0.05-0.3."""
    zone_low_m2: float = 20.0
    """Smaller patches of a better grade take the next worse one; our choice, 8-100."""
    reckoned: float = 0.8
    """Standard errors above the mapped depth and speed that notes give as what to reckon with;
    measured on made rivers: nine of ten are less deep (docs/wading.md)."""
    margin_high_m: float = 10.0
    """The most that this adds to the mapped depth: the slope of a bank, carried on to the middle of
    a wide river, would tell of sixty metres. Grades know no such bound. Our choice, 5-20: far
    beyond every limit."""
    drift_width_m: float = 4.0
    """A drift that passes this near a hazard meets it; our choice, 2-8."""
