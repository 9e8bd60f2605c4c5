"""Settings of the fit of roughness and depth to notes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FitSettings:
    """How much the notes of depth, speed, level and edge weigh where the ground is fitted to them.

    Standard errors are our choice, with the range in which they make sense.
    """

    level_error_m: float = 0.05
    """Of a noted level [m], 0.03-0.1."""
    edge_error_m: float = 0.12
    """Of the ground's height at a noted edge [m], 0.08-0.2."""
    sounding_error_m: float = 0.10
    """Of a depth [m], 0.05-0.15."""
    speed_error_m_s: float = 0.05
    speed_error_share: float = 0.15
    """Of a speed: a constant and a share of it, 0.03-0.1 m/s and 0.1-0.25."""
    model_speed_share: float = 0.25
    """Error of a depth-averaged model's speed at one place, as a share of it, 0.15-0.3: it stands
    between map and note too (docs/uncertainty.md)."""
    surface_factor: float = 0.85
    """Mean over surface speed: ISO 748 and USGS WSP 2175 give 0.80-0.90 (from memory); a log
    profile of h/z0 = 1000 gives 0.855."""
    edge_step_m: float = 20.0
    """Spacing of places along a noted edge [m], 10-40."""
    walked_place_m: float = 4.0
    """Standard error of a place that a phone tells along a walk, or of a photo [m], 3-8: times the
    slope of the ground there, it is a further error of the height at that edge."""
    float_worth: float = 5.0
    """How many independent notes the speeds of one drift are worth at most, 3-8: wind and how
    deep the boat sits are the same in all of them."""
    near_m: float = 12.0
    """How far off the water may be to be an edge's or a level's [m], 6-20."""
    edge_worth: float = 10.0
    """How many independent notes the edges at one flow are worth at most, 5-20."""
    roughness_pull: float = 0.2
    """Standard deviation of the logarithm of the channel's roughness before any note, 0.1-0.3; that
    of each class of cover is `cover_doubt`."""
    least_told: float = 0.1
    """A class of cover is left as it was where the notes would take away less than this share of
    what is known of it anyway, 0.05-0.3: so little may be one note meeting another cell."""
    flow_error: float = 0.07
    """Standard deviation of the logarithm of the flow that truly ran at a note, 0.05-0.1: ratings
    are held to 5 to 10 %."""
    difference: float = 0.03
    """Step of a logarithm over which the change of the answers is taken, 0.01-0.05."""
    surest: float = 0.04
    """Least standard deviation of the logarithm of a fitted roughness, 0.03-0.08: the flows the
    notes were taken at are known to 5 % at best, and depth goes with (Q n)^0.6."""
    roughness_bounds: tuple[float, float] = (0.5, 2.0)
    depth_bounds: tuple[float, float] = (0.6, 1.7)
    cover_bounds: tuple[float, float] = (0.4, 2.5)
    """What the multipliers may become: the ranges of Chow (1959) table 5-6 reach about half and
    double any one value, drawn growth may be bare ground in truth; the depth that closes a flow
    known to a factor two is within 1.5 (our choice)."""
