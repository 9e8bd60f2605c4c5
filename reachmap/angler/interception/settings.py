"""Settings of the interception score, each with its reason and range."""

from __future__ import annotations

from dataclasses import dataclass, field

LEAST_RUN_M = 36.6
"""A run with less bank to fish from is none to go to: 40 yards; our choice, 25-45 m."""


@dataclass(frozen=True, slots=True)
class Member:
    """One reading of how fish and fly meet, of those over which the score is averaged.

    Parameters
    ----------
    hold_share
        Share of the fish's time spent holding in lies, the rest on the way; 0 to 1.
    view
        Times the usual distance from which a fish takes a fly.
    shy
        Share of the fish that keep to slack water: 0 those of low effort exponent alone, 1 those of
        high alone.
    """

    hold_share: float = 0.3
    view: float = 1.0
    shy: float = 0.5


@dataclass(frozen=True, slots=True)
class RankSettings:
    """How far the order of runs may be off; fitted to made rivers (docs/interception.md)."""

    log_sd: float = 0.45
    """Standard deviation of the logarithm of true over mapped odds; measured, 0.4-0.5."""
    gone_one: float = 0.47
    """Chance that a run of one place cannot truly be fished, of n places to the power of their
    root; measured, 0.45-0.5."""
    inside: float = 0.8
    """Chance with which the true rank lies in the span; our choice, 0.7-0.9."""
    draws: int = 300
    seed: int = 17
    """Draws of the map's errors, each taken with every reading of the fish."""


@dataclass(frozen=True, slots=True)
class InterceptionSettings:
    """How fish and fly meet. None of these numbers is measured: only relative odds are shown."""

    view_share: float = 0.5
    view_low_m: float = 0.4
    view_high_m: float = 1.5
    """A fish takes a fly that passes within this share of the visibility, between two limits [m];
    our choice, 0.3-0.8, 0.3-0.6 and 1-2."""
    rise_share: float = 0.35
    rise_low_m: float = 0.3
    rise_high_m: float = 1.0
    """Height a fish rises for a fly: a share of the visibility, between two limits [m]; our
    choice, 0.2-0.6, 0.2-0.5 and 0.6-1.5."""
    lie_height_m: float = 0.25
    """A fish lies this far above the bed [m]; our choice, 0.1-0.4."""
    slow_worth: float = 0.3
    """Worth of a fly that swims too slowly, over one at the wanted pace; our choice, 0.1-0.5:
    it hangs, and some fish take it there."""
    touch_m: float = 0.05
    touch_worth: float = 0.6
    """Within this of the bed the fly is about to touch, and worth so much; our choice, 0.03-0.1 and
    0.4-0.8."""
    take_s: float = 3.0
    """Seconds in good view after which two of three fish have taken; our choice, 1-6."""
    covered_s: float = 1.0
    """Water in which a fish gets so many seconds of good view is shown as covered; our choice,
    0.5-3: one fish in four has taken by then."""
    even_share: float = 0.3
    """Share of the fish in lies that come there by any route, so that a bucket beside the
    corridor is not lost; our choice, 0.2-0.4."""
    near_m: float = 16.0
    """Size of the squares over which passing fish look for a lie [m]; our choice, 10-30."""
    bin_m: float = 5.0
    """Of the places along this much of a bank the best one is fished; our choice, 3-10."""
    setup_min: float = 10.0
    """Walking in, rigging and looking, charged to every run [min]; our choice, 5-20: without it a
    scrap of fifteen metres has the best odds an hour."""
    prime_low_m: float = 91.4
    prime_high_m: float = 182.9
    """The prime stretch of a run is 100 to 200 yards long, the whole of a shorter one; common
    practice, no published source."""
    prime_least_m: float = 36.6
    prime_most_min: float = 90.0
    """Where 100 yards would take longer than this, as with the short steps of coloured water, the
    stretch is as much of them as the time allows, 40 yards at least [m, min]; our choice, 60-120:
    one run shall not eat the day."""
    gap_m: float = 20.0
    """A gap of bank without a place longer than this ends a stretch; our choice, 10-40."""
    members: tuple[Member, ...] = (
        Member(),
        Member(hold_share=0.15),
        Member(hold_share=0.5),
        Member(view=0.7),
        Member(view=1.4),
        Member(shy=0.0),
        Member(shy=1.0),
    )
    """Readings over which odds are averaged and ranks given; the first is the middle one."""
    ranks: RankSettings = field(default_factory=RankSettings)
