"""Numbers of a guide's day; all our choice or common practice, with their ranges."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GuideSettings:
    """How a day of several rods is laid out."""

    most_turns: int = 5
    """Into so many turns a day is parted at most; our choice, 3-6."""
    most_runs: int = 8
    """So many runs are planned with, those worth most; our choice, 5-10."""
    follow_share: float = 0.6
    """What a run is worth to a rod that fishes it after another, or once more; common practice, no
    published source, 0.3-0.8: fish that let one fly pass are fewer for the next."""
    crowd_share: float = 0.05
    """What the worth of a run loses with each turn that one comes later, since others may be there;
    our choice, 0-0.2: the best water first."""
    fair_power: float = 0.7
    """A rod's day counts with this power of its worth, so that what one lacks weighs more than what
    another gains; our choice, 0.5-1. At 1 only the sum counts."""
    tie_ratio: float = 1.15
    """Odds within this ratio are taken as the same; our choice, 1.05-1.3: over the readings of the
    fish nothing nearer than that is told apart (docs/interception.md)."""
    move_share: float = 0.2
    """What a minute of moving costs beyond being lost, as a share of a minute at the best rate; our
    choice, 0.05-0.5: of plans worth about the same the one with the least moving."""
    upstream_min: float = 10.0
    """Going back up counts as so many minutes more of moving; our choice, 0-30."""
    wait_min: float = 30.0
    """Sitting a turn out counts as so many minutes of moving; our choice, 0-60."""
    keep_share: float = 0.1
    """An earlier plan of the same day stays while it is worth as much less than the best at most;
    our choice, 0.05-0.2: small changes never shuffle the rods."""
    change_share: float = 0.15
    """What a plan B must gain for each turn of a rod that it changes, as a share of a turn at the
    best rate; our choice, 0.05-0.3."""
    walk_m_s: float = 0.7
    """Walking along a river's bank with a rod [m/s]; our choice, 0.4-1.2."""
    walk_most_min: float = 40.0
    """Nobody is sent on a longer walk from run to run [min]; our choice, 20-60."""
    landing_min: float = 8.0
    """To land, anchor and set the rods off [min]; our choice, 4-15."""
    stop_m: float = 200.0
    """Runs this near along the river are fished from one stop of the boat [m]; our choice,
    100-300."""
    boat_days: int = 10
    """Of the boat's ways down the stops so many are planned exactly; our choice, 6-40."""
    backup_days: int = 5
    """So many for each plan B; our choice, 3-20."""
    float_step_m: float = 10.0
    """Along the river the speed of the thalweg is read every so far [m]; our choice, 5-20."""
    least_min: float = 15.0
    """For less time than this nobody is sent to a run [min]; our choice, 10-30."""
    dark_min: float = 30.0
    """The last turn ends so long before the sun sets [min]; our choice, 15-60."""
    easy_share: float = 0.6
    """A person whose limits are lower than those the map was graded for gets places that stay
    within this share of every one of their limits, with the depth and speed to reckon with;
    our choice, 0.4-0.8, as `WadingNumbers.easy_share`."""
    typed_doubt: float = 1.15
    """A flow that was typed in may be exceeded by this ratio within the day; our choice,
    1.05-1.3."""
