"""The one table of numbers an angler may set in reach.toml: what each means and where it is from.

Reader, the commented reach.toml of a new folder, docs and settings all use it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reachmap.markup.layers import Quantity

_LENGTH, _SPEED = Quantity.LENGTH, Quantity.SPEED
_PRACTICE = "common practice"
_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class OwnKey:
    """One number of reach.toml.

    Parameters
    ----------
    section, key
        Where it stands.
    quantity
        What it measures; None for a plain number without a unit.
    low, high
        Limits [SI]; outside them it is a fault. Our choice, beyond what makes sense.
    usual
        What is taken where nothing is said, with its unit; an example where nothing is taken.
    meaning
        One line for the angler.
    source
        Where the usual number is from.
    taken
        Whether `usual` is taken; else there is none.
    """

    section: str
    key: str
    quantity: Quantity | None
    low: float
    high: float
    usual: str
    meaning: str
    source: str
    taken: bool = True

    @property
    def name(self) -> str:
        """Return its name, like ``lane.effort``."""
        return f"{self.section}.{self.key}"


SECTION_WORDS: Mapping[str, str] = {
    "clarity": "how far one sees into the water, and what that does",
    "runs": "what counts as a run and as prime water",
    "lane": "the travel lane: what a fish pays for and what it cannot do",
    "wading": "wading: published rules in force, your own limits on top, and the doubt",
    "casting": "room behind: the caster and the loop",
    "swing": "the swing you want",
    "pace": "how fast you fish a run",
}
"""Sections of own numbers, in the order they are shown."""

OWN_KEYS: tuple[OwnKey, ...] = (
    OwnKey("clarity", "see", _LENGTH, 0.02, 20, "4 ft", "how far one sees now", "our choice"),
    OwnKey("clarity", "good", _LENGTH, 0.2, 6, "4 ft", "from here on clear enough: 3-4 ft",
           _PRACTICE),
    OwnKey("clarity", "coloured_depth", _LENGTH, 0.05, 1.5, "0.3 m",
           "least depth of fish in coloured water: 1-3 ft along the edge", _PRACTICE),
    OwnKey("runs", "longest", _LENGTH, 30, 500, "183 m", "longest stretch of one run: 200 yards",
           _PRACTICE),
    OwnKey("runs", "shortest", _LENGTH, 5, 100, "25 m", "shorter water is no run",
           "our choice, 15-40 m"),
    OwnKey("runs", "prime_length", _LENGTH, 20, 400, "91 m", "least length of prime water: "
           "100 yards", _PRACTICE),
    OwnKey("runs", "prime_score", None, 1, 100, "60", "least score of prime water",
           "our choice, 50-75"),
    OwnKey("runs", "in_shape", None, 1, 100, "30", "least score of a run in shape",
           "our choice, 25-45"),
    OwnKey("runs", "reach", _LENGTH, 5, 60, "27 m", "water farther from a bank is out of reach: "
           "90 ft", _PRACTICE),
    OwnKey("lane", "effort", None, 0.2, 8, "1.5", "k in effort ~ exp(k x swimming speed), "
           "seconds a metre", "our choice, 1-3; form: Castro-Santos 2005, abstract read"),
    OwnKey("lane", "least_depth", _LENGTH, 0.03, 0.8, "0.18 m", "least depth a fish passes",
           "from memory: Thompson 1972"),
    OwnKey("lane", "most_speed", _SPEED, 0.5, 8, "4.18 m/s", "speed a fish can sustain",
           "from memory: Bell 1986"),
    OwnKey("lane", "cover_depth", _LENGTH, 0.1, 4, "0.9 m", "depth that covers a fish in clear "
           "water: 3 ft", _PRACTICE),
    OwnKey("lane", "exposure", None, 0, 100, "9", "how many times more a metre costs in the "
           "thinnest water", "our choice, 4-20"),
    OwnKey("lane", "lead_share", None, 0, 0.5, "0.03", "a side channel with less of the flow leads "
           "no fish in", "our choice, 0.01-0.1"),
    OwnKey("lane", "band", _LENGTH, 1, 200, "15 m", "ways that cost so many still metres more "
           "make the band", "our choice, 5-40 m"),
    OwnKey("wading", "mass", Quantity.MASS, 25, 180, "150 lb", "your body mass; else 20 kg/m2 "
           "times height squared, a light build", "our choice, 18.5-30 kg/m2", taken=False),
    OwnKey("wading", "product", Quantity.UNIT_FLOW, 0.05, 2, "8 ft2/s", "your own limit of depth "
           "times speed, on top of the rules", "yours to say", taken=False),
    OwnKey("wading", "speed", _SPEED, 0.1, 3, "2.5 ft/s", "your own limit of speed, on top of the "
           "rules", "yours to say", taken=False),
    OwnKey("wading", "depth_share", None, 0.2, 0.7, "0.5", "deepest water over your height",
           "our choice, 0.4-0.5; fork of the legs at about 0.47, from memory"),
    OwnKey("wading", "easy_chance", None, 0.0001, 0.1, "0.002", "chance of being beyond a limit "
           "under which water is easy", "our choice, 0.001-0.02"),
    OwnKey("wading", "careful_chance", None, 0.0001, 0.2, "0.0125", "the same for careful",
           "our choice, 0.005-0.05"),
    OwnKey("wading", "easy_share", None, 0.2, 1, "0.6", "above this share of a limit as mapped "
           "nothing is easy", "our choice, 0.5-0.7"),
    OwnKey("wading", "doubt", None, 0, 4, "1", "times the map's measured errors reckoned with; "
           "less than 1 is marked on every page", "our choice, 1-2"),
    OwnKey("wading", "speed_doubt", None, 0, 1, "0.2", "share of the quickest water nearby that "
           "the speed may be off", "by trial on made rivers, 0.1-0.3"),
    OwnKey("wading", "place_error", _LENGTH, 0, 15, "3 m", "how far off a drawn depth may lie",
           "our choice, 2-4 m"),
    OwnKey("wading", "gauge_error", None, 0, 0.5, "0", "share of the flow the river may carry "
           "above what is read; 0.25 is taken where the folder has no gauge", "our choice"),
    OwnKey("wading", "brush_depth", _LENGTH, 0, 1.2, "0.45 m", "deeper water in brush is out of "
           "bounds", "our choice, 0.3-0.5 m"),
    OwnKey("wading", "hazard_reach", _LENGTH, 0, 50, "4 m", "keep so far from a drawn hazard",
           "our choice, 2-8 m"),
    OwnKey("wading", "drift", _LENGTH, 0, 200, "25 m", "water that drifts into a hazard within "
           "this is out of bounds", "our choice, 10-50 m"),
    OwnKey("wading", "below", _LENGTH, 10, 1000, "300 ft", "how far down the current to look",
           "our choice: 100 yards"),
    OwnKey("casting", "hand", _LENGTH, 0.5, 2.5, "5.5 ft", "hands above the feet", _MEMORY),
    OwnKey("casting", "butt", _LENGTH, 0, 1.5, "1.5 ft", "rod below the upper hand", _MEMORY),
    OwnKey("casting", "back", _LENGTH, -1, 2, "0.5 ft", "hands behind the feet at the key position",
           _MEMORY),
    OwnKey("casting", "anchor", _LENGTH, 0, 6, "2 ft", "line meets the water so far in front",
           _MEMORY),
    OwnKey("casting", "overhang_short", _LENGTH, 0, 5, "2 ft", "running line outside the tip ring, "
           "short heads", _MEMORY),
    OwnKey("casting", "overhang_long", _LENGTH, 0, 5, "3 ft", "the same with long heads",
           "from memory, 3-4 ft"),
    OwnKey("casting", "long_head", _LENGTH, 3, 30, "30 ft", "from this length on a head is long",
           "our choice"),
    OwnKey("casting", "margin", _LENGTH, 0, 10, "3 ft", "room to spare behind the loop", _MEMORY),
    OwnKey("casting", "clearance", _LENGTH, 0, 5, "2 ft", "line stays so far above cover",
           _MEMORY),
    OwnKey("casting", "grass", _LENGTH, 0, 2, "0.6 m", "lower cover may be brushed",
           "our choice, 0.3-0.8 m"),
    OwnKey("casting", "doubt", None, 0, 1, "0.2", "share by which every reach may be off",
           "our choice"),
    OwnKey("casting", "sweep", None, 0, 60, "15", "degrees to either side the loop may lie in",
           _MEMORY),
    OwnKey("casting", "sag", None, 0, 1.2, "0.7", "seconds the end of a line straightened behind "
           "falls before it is drawn forward", "our choice, 0.5-0.9"),
    OwnKey("casting", "skagit_rods", None, 1, 6, "2", "longest skagit head over the rod's length",
           "common practice, 1.5-2"),
    OwnKey("casting", "scandi_rods", None, 1, 6, "3", "longest scandi head over the rod's length",
           "common practice, 2.5-3"),
    OwnKey("casting", "belly_rods", None, 1, 8, "4.5", "longest belly over the rod's length",
           "common practice, 3.5-4.5"),
    OwnKey("swing", "winter_pace", _SPEED, 0.1, 2, "1.5 ft/s", "fly's speed across, winter",
           _PRACTICE),
    OwnKey("swing", "summer_pace", _SPEED, 0.1, 3, "2.25 ft/s", "fly's speed across, summer",
           _PRACTICE),
    OwnKey("swing", "slowest", _SPEED, 0.05, 1.5, "0.25 m/s", "slowest that still fishes, winter",
           "our choice, 0.15-0.3 m/s"),
    OwnKey("swing", "quickest", _SPEED, 0.1, 3, "0.6 m/s", "quickest that still fishes, winter",
           "common practice: a slow walk"),
    OwnKey("swing", "stall", _SPEED, 0.02, 0.5, "0.12 m/s", "slower than this the fly has stalled",
           "our choice, 0.08-0.2 m/s"),
    OwnKey("swing", "depth_low", None, 0, 0.95, "0.35", "share of the depth the fly should reach",
           "common practice, 0.2-0.6"),
    OwnKey("swing", "depth_high", None, 0.1, 1, "0.85", "deeper than this share it is about to "
           "touch", "our choice, 0.75-0.95"),
    OwnKey("swing", "mend", _LENGTH, 0, 6, "0 m", "bow of the first mend, up the current",
           "our choice, 0-3 m"),
    OwnKey("swing", "fly_mass", Quantity.MASS, 0, 0.02, "0.7 g", "mass of the fly, wet",
           "our choice, 0.3-2 g"),
    OwnKey("swing", "fly_weight", Quantity.MASS, 0, 0.02, "0.45 g", "weight of the fly under water",
           "our choice, 0.1-1.5 g"),
    OwnKey("pace", "winter_step", _LENGTH, 0.2, 6, "4 ft", "step between casts, winter: 3-5 ft",
           _PRACTICE),
    OwnKey("pace", "summer_step", _LENGTH, 0.2, 6, "6.5 ft", "step between casts, summer: 5-8 ft",
           _PRACTICE),
    OwnKey("pace", "hang", None, 0, 120, "6.5", "seconds you wait at the hang-down: 5-8",
           _PRACTICE),
    OwnKey("pace", "cast", None, 2, 300, "20", "seconds to set up, cast and mend", _PRACTICE),
    OwnKey("pace", "strip", None, 0, 10, "0.5", "seconds for each foot of line stripped in",
           _PRACTICE),
    OwnKey("pace", "between", None, 0, 600, "15", "minutes from one run to the next",
           "our choice, 5-40"),
)  # fmt: skip
"""Every number, section by section."""


def table_lines() -> list[str]:
    """Return the own numbers as rows of a table for the docs."""
    lines = []
    for section in SECTION_WORDS:
        head = f"**[{section}]** "
        for one in OWN_KEYS:
            if one.section != section:
                continue
            value = f'"{one.usual}"' if one.quantity else one.usual
            usual = f"`{value}`" if one.taken else f"not set; an example: `{value}`"
            span = f"{one.low:g} to {one.high:g}{f' {SI[one.quantity]}' if one.quantity else ''}"
            lines.append(f"| {head}`{one.key}` | {one.meaning} | {usual} | {span} | {one.source} |")
            head = ""
    return lines


SI: Mapping[Quantity, str] = {
    Quantity.LENGTH: "m",
    Quantity.SPEED: "m/s",
    Quantity.MASS: "kg",
    Quantity.UNIT_FLOW: "m2/s",
}
"""SI unit of each quantity, for the limits in the docs."""


def template_lines() -> list[str]:
    """Return the own numbers as commented lines of a new reach.toml."""
    lines = []
    for section, words in SECTION_WORDS.items():
        lines += ["", f"# [{section}]".ljust(28) + f"# {words}"]
        for one in OWN_KEYS:
            if one.section == section:
                value = f'"{one.usual}"' if one.quantity else one.usual
                told = f"# {one.key} = {value}".ljust(28)
                unset = "" if one.taken else "not set, an example: "
                lines.append(f"{told}# {unset}{one.meaning}; {one.source}")
        lines += EXTRA_LINES.get(section, [])
    return lines


EXTRA_LINES: Mapping[str, list[str]] = {
    "clarity": [
        '# sightings = [[900, "5 ft"], [2400, "1.5 ft"]]  # flow and how far you saw, at two flows',
        "# With them clarity follows the flow, alpha flow^-beta (Davies-Colley 1990, abstract).",
        "# [[fly]]                   # a row of your own fly table; the first begins at clarity 0",
        "# clarity = 0               # from here on: so far one sees",
        '# length = ["4 in", "5 in"]',
        '# colour = "black and blue"',
        '# shape = "bulky"',
        '# note = "only the soft edge"           # the usual table: common practice',
    ],
    "wading": [
        "# The published rules in force; the strictest counts (docs/wading.md). Others there are:",
        '# "good conditions", "normal conditions".',
        '# rules = ["rule of ten", "failure tests", "poor conditions", "flood hazard", '
        '"emergency advice"]',
    ],
    "casting": [
        "# [[cast]]                  # own figures of one cast's loop; all from memory",
        '# name = "single spey"',
        "# anchored = 0.10           # share of the head left on the water",
        "# tilt = 28                 # lean of the rod back from upright, degrees",
        "# apex = 0.40               # height of the loop's apex over that of the rod tip",
    ],
}
"""What else a section may hold."""
