"""Words of the map's page scripts that belong to no other group of texts."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted

PAGE: Mapping[str, str] = {
    "unknown": noted("unknown"),
    "in_shape": noted("in shape"),
    "guess": noted("a guess"),
    "back": noted("Back"),
    "at": noted("At {flow}"),
    "pieces": noted("Worked out in these stretches"),
    "part": noted("Part of"),
    "fishes_now": noted("fishes now"),
    "not_now": noted("not at this flow"),
    "clear": noted("{share} of 100"),
    "not_known": noted("not known"),
    "fishes": noted("fishes"),
    "leave": noted("leave it"),
    "run_at": noted("{run}, at {flow}: {told}"),
    "coloured": noted("Water coloured by"),
    "depth": noted("Depth"),
    "speed": noted("Speed"),
    "plain": noted("Plain"),
    "colours": noted("Colours from {first} to {last} {unit} and more"),
    "north": noted("North is up"),
    "north_sign": noted("N"),
    "whole": noted("Show the whole reach"),
    "closer": noted("Closer"),
    "farther": noted("Farther"),
    "seconds": noted("{count} s"),
    "minutes": noted("{count} min"),
    "dry": noted("Dry ground at {flow}"),
    "outside": noted("Outside the mapped ground: unknown"),
    "unknown_water": noted("Unknown: treat it as deep and fast"),
    "deep": noted("{depth} deep"),
    "reading": noted("Reading"),
    "no_speed": noted("speed unknown"),
    "close": noted("Close the reading"),
    "every_flow": noted("Here at every flow"),
    "map": noted(
        "Map of the reach. Arrow keys move it, plus and minus change its size, Enter reads depth "
        "and speed at its middle."
    ),
    "unknown_at": noted("Not known at {flow}"),
    "leave_at": noted("Leave it at {flow}"),
    "look_at": noted("Water to look at, at {flow}"),
    "picked_at": noted("Number {pick} today, at {flow}"),
    "shape_at": noted("In shape, at {flow}"),
    "more": noted("More"),
    "best_water": noted("Best water"),
    "odds": noted("Odds"),
    "suits": noted("Suits a swung fly"),
    "of_100": noted("{score} of 100"),
    "prime": noted("Prime"),
    "holds": noted("holds over a length worth fishing"),
    "wading": noted("Wading to it"),
    "sure": noted("How sure"),
    "instead": noted("Instead"),
    "best_at": noted("Best at"),
    "once": noted("Once through"),
    "water_in": noted("Water in it"),
    "stands": noted("Where to stand"),
    "flows": noted("At other flows"),
    "own": noted("your run"),
    "found": noted("found for you"),
    "log": noted("Your log:"),
    "room": noted("Room behind"),
    "casts": noted("Casts"),
    "too_old": noted(
        "This browser is too old to open the map: it cannot unpack it. The still picture, the "
        "table of runs and the cautions hold."
    ),
    "always": noted("always shown"),
    "none": noted("none"),
    "good_to": noted("place good to {far} m"),
}
"""Words by the name that a script gives to `tr`; names in braces are filled in by the page."""
