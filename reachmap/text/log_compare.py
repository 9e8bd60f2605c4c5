"""Sentences on trips and touches against the season's limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reachmap.base.language import figures_text
from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.compare import FEWEST_TOUCHES, Compared, Part
from reachmap.logbook.stats import Tally
from reachmap.markup.model import SeasonLimits
from reachmap.text.log import tally_words, touches_words, trips_words


def compare_lines(found: Compared, season: SeasonLimits, units: UnitSystem) -> list[str]:
    """Return trips and touches against the season's limits, as lines.

    Parameters
    ----------
    found
        The comparison.
    season
        The limits compared with.
    units
        Units shown.
    """
    depth = (season.depth_low_m, season.depth_high_m)
    speed = (season.speed_low_m_s, season.speed_high_m_s)
    if not found.enough:
        return [
            f"Too little to compare yet: {touches_words(found.touches)} on "
            f"{trips_words(found.trips)} whose water the map knows, wants "
            f"{FEWEST_TOUCHES} touches.",
            *_left_out(found),
        ]
    return [
        f"{season.season.capitalize()}'s limits beside {touches_words(found.touches)} on "
        f"{trips_words(found.trips)}. Depth and speed are the map's for the run's best water at "
        "that flow, not the fish's own place.",
        *_table("depth", found.depth, depth, LENGTH[units]),
        *_table("speed", found.speed, speed, SPEED[units]),
        *_left_out(found),
        "Trips go where one expects fish, so the log says little of water that was left alone.",
        "Nothing is changed by this. The limits are yours: [season] in reach.toml.",
    ]


def _table(name: str, parts: Mapping[Part, Tally], limits: Sequence[float], unit: str) -> list[str]:
    """Return a limit's rows: below it, within and above."""
    low, high = (from_si(limit, unit) for limit in limits)
    heads = {
        Part.BELOW: f"{name} below {figures_text(low, 2)} {unit}",
        Part.WITHIN: f"{name} {figures_text(low, 2)} to {figures_text(high, 2)} {unit}",
        Part.ABOVE: f"{name} above {figures_text(high, 2)} {unit}",
    }
    return [f"  {heads[part]:<26} {fished_words(parts[part])}" for part in Part]


def fished_words(tally: Tally) -> str:
    """Return a tally in words, or that there was no trip."""
    return tally_words(tally) if tally.trips else "not fished"


def _left_out(found: Compared) -> list[str]:
    """Return the sentence on trips whose water is not known."""
    if not found.left_out:
        return []
    return [
        f"{trips_words(found.left_out)} left out: without a flow, of a run the last build does not "
        "name, or more than 25 % from every flow on the map."
    ]
