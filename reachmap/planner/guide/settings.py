"""Settings of a guide's day; all our choice or common practice, with their ranges."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GuideSettings:
    """How a day of several rods is planned."""

    most_turns: int = 5
    """Most turns of a day; our choice, 3-6."""
    most_runs: int = 8
    """Most runs planned with, those worth most; our choice, 5-10."""
    follow_share: float = 0.6
    """Share of a run's worth to a rod that fishes it after another, or once more; common practice,
    no published source, 0.3-0.8: fish that let one fly pass are less likely to take the next."""
    crowd_share: float = 0.05
    """Share of a run's worth lost with each later turn, since others may be there; our choice,
    0-0.2: the best water first."""
    fair_power: float = 0.7
    """Power of a rod's worth in the plan, so that what one rod lacks weighs more than what another
    gains; our choice, 0.5-1. At 1 only the sum counts."""
    tie_ratio: float = 1.15
    """Odds within this ratio are taken as the same; our choice, 1.05-1.3: the readings of the fish
    do not separate closer ones (docs/interception.md)."""
    move_share: float = 0.2
    """Cost of a minute of moving beyond the lost time, as a share of a minute at the best rate;
    our choice, 0.05-0.5: of plans worth about the same the one with the least moving."""
    upstream_min: float = 10.0
    """Minutes of moving that going back up counts for in addition [min]; our choice, 0-30."""
    wait_min: float = 30.0
    """Minutes of moving that an idle turn counts for [min]; our choice, 0-60."""
    keep_share: float = 0.1
    """An earlier plan of the same day stays while it is worth at most this share less than the
    best; our choice, 0.05-0.2: small changes never shuffle the rods."""
    change_share: float = 0.15
    """Gain required of a plan B for each turn of a rod that it changes, as a share of a turn at the
    best rate; our choice, 0.05-0.3."""
    walk_m_s: float = 0.7
    """Walking speed along a river's bank with a rod [m/s]; our choice, 0.4-1.2."""
    walk_most_min: float = 40.0
    """Longest walk from run to run [min]; our choice, 20-60."""
    landing_min: float = 8.0
    """Time to land, anchor and set the rods off [min]; our choice, 4-15."""
    stop_m: float = 200.0
    """Length of river within which runs share one stop of the boat [m]; our choice, 100-300."""
    boat_days: int = 10
    """Number of the boat's routes that are planned exactly; our choice, 6-40."""
    backup_days: int = 5
    """The same for each plan B; our choice, 3-20."""
    float_step_m: float = 10.0
    """Step along the river at which the thalweg's speed is read [m]; our choice, 5-20."""
    least_min: float = 15.0
    """Shortest time for which a rod goes to a run [min]; our choice, 10-30."""
    dark_min: float = 30.0
    """Time between the end of the last turn and sunset [min]; our choice, 15-60."""
    easy_share: float = 0.6
    """Share of every limit that depth and speed, margins included, may reach at a place for a
    person whose limits are lower than those the map was graded for; our choice, 0.4-0.8, as
    `WadingNumbers.easy_share`."""
    typed_margin: float = 1.15
    """Ratio of the day's upper bound to a flow that was typed in; our choice, 1.05-1.3."""
