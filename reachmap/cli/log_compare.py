"""What `reachmap log DIR compare` says: the season's limits beside where fish touched."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from reachmap.base.generation import REPORT
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.cli.log_place import RunBook
from reachmap.logbook.compare import FEWEST_TOUCHES, Compared, Part, Water, compare
from reachmap.logbook.stats import Tally, run_key
from reachmap.logbook.store import kept_in
from reachmap.markup.files import REACH_FILE
from reachmap.markup.plan import read_plan
from reachmap.outputs.log_text import tally_words, touches_words
from reachmap.pipeline.stamp import settled_folder


def compared(folder: Path) -> list[str]:
    """Return the season's limits beside where fish touched, as lines."""
    try:
        text = read_text(folder / REACH_FILE, FileKind.SETTINGS, folder)
    except (RefusedError, OSError):
        text = ""
    plan = read_plan(text).plan
    season, units = plan.season, plan.units
    depth = (season.depth_low_m, season.depth_high_m)
    speed = (season.speed_low_m_s, season.speed_high_m_s)
    entries = kept_in(folder)
    found = compare(entries, RunBook(folder).join(entries), built_waters(folder), depth, speed)
    if not found.enough:
        return [
            f"Too little to compare yet: {touches_words(found.touches)} on {_trips(found.trips)} "
            f"whose water the map knows, wants {FEWEST_TOUCHES} touches.",
            *_untold(found),
        ]
    return [
        f"{season.season.capitalize()}'s limits beside {touches_words(found.touches)} on "
        f"{_trips(found.trips)}. Depth and speed are the map's for the run's best water at that "
        "flow, not the fish's own place.",
        *_table("depth", found.depth, depth, LENGTH[units]),
        *_table("speed", found.speed, speed, SPEED[units]),
        *_untold(found),
        "Trips go where one expects fish, so the log says little of water that was left alone.",
        "Nothing is changed by this. The limits are yours: [season] in reach.toml.",
    ]


def built_waters(folder: Path) -> dict[str, list[Water]]:
    """Return each run's best water at every flow of the last build; none where nobody built."""
    try:
        path = settled_folder(folder, None) / REPORT
        rows = json.loads(path.read_text(encoding="utf-8"))["runs_by_flow"]
        found: dict[str, list[Water]] = {}
        for row in rows:
            numbers = (row["flow"], row["depth_m"], row["speed_m_s"])
            water = Water(*(math.nan if one is None else float(one) for one in numbers))
            found.setdefault(run_key(str(row["run"])), []).append(water)
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    return found


def _table(name: str, parts: Mapping[Part, Tally], limits: Sequence[float], unit: str) -> list[str]:
    """Return a limit's rows: below it, within and above."""
    low, high = (from_si(limit, unit) for limit in limits)
    heads = {
        Part.BELOW: f"{name} below {low:.2g} {unit}",
        Part.WITHIN: f"{name} {low:.2g} to {high:.2g} {unit}",
        Part.ABOVE: f"{name} above {high:.2g} {unit}",
    }
    return [f"  {heads[part]:<26} {fished_words(parts[part])}" for part in Part]


def fished_words(told: Tally) -> str:
    """Return a tally in words, or that nobody fished there."""
    return tally_words(told) if told.trips else "not fished"


def _trips(number: int) -> str:
    """Return how many trips, in words."""
    return "1 trip" if number == 1 else f"{number} trips"


def _untold(found: Compared) -> list[str]:
    """Return what to say of trips whose water is not known."""
    if not found.untold:
        return []
    return [
        f"{_trips(found.untold)} left out: without a flow, of a run the last build does not name, "
        "or more than 25 % from every flow on the map."
    ]
