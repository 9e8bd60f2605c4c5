"""Words for enum values in sentences and cards, for all outputs."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted
from reachmap.base.words import (
    Confidence,
    Footing,
    Lack,
    LogKind,
    Side,
    Stretch,
    SwingEnd,
    WaterKind,
)
from reachmap.base.words_runs import StructureKind, Support

KINDS: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: noted("inside bend"),
    WaterKind.SEAM: noted("seam"),
    WaterKind.TAILOUT: noted("tailout"),
    WaterKind.SOFT_EDGE: noted("soft edge"),
    WaterKind.EVEN_RUN: noted("even run"),
}
"""Kinds of water in a sentence."""

STRUCTURES: Mapping[str, str] = {
    StructureKind.BUCKET: "bucket",
    StructureKind.SLOT: "slot",
    StructureKind.LEDGE_POOL: "ledge pool",
    StructureKind.DROP_OFF: "drop-off",
    StructureKind.BOULDER_LEE: "boulder lee",
    StructureKind.EDDY_LINE: "eddy below a point",
    StructureKind.ROCK_GARDEN: "rock garden",
}
"""Structures in a sentence."""

SUPPORTS: Mapping[str, str] = {
    Support.DEM: "the terrain model",
    Support.SOUNDINGS: "soundings near by",
    Support.ROCKS: "rocks you drew",
    Support.MARK: "your own mark",
}
"""Evidence for a structure."""

SIDES: Mapping[str, str] = {
    Side.LEFT: "river left",
    Side.RIGHT: "river right",
    Side.ISLAND: "on the island",
}
"""Sides, as a place."""

FROM_BANK: Mapping[str, str] = {
    Side.LEFT: "from river left",
    Side.RIGHT: "from river right",
    Side.ISLAND: "from the island or bar",
}
"""Sides, as where one fishes from."""

STRETCHES: Mapping[str, str] = {
    Stretch.UPPER: "at its upper end",
    Stretch.MIDDLE: "about its middle",
    Stretch.LOWER: "at its lower end",
}
"""Parts of a run or structure."""

WADED: Mapping[str, str] = {
    Footing.DRY: "from dry ground",
    Footing.EASY: "within your limits",
    Footing.NO: "no place within your limits",
    Footing.UNKNOWN: "no place to stand was found",
}
"""How one wades to a piece of water."""

LACKS: Mapping[str, str] = {
    Lack.DEPTH: "depth hardly suits",
    Lack.SPEED: "speed hardly suits",
    Lack.UNEVEN: "uneven",
    Lack.SMALL: "too small",
    Lack.REACH: "out of casting reach",
    Lack.UNKNOWN: "not known",
    Lack.DRY: "dry",
    Lack.THIN: "too thin",
    Lack.DEEP: "too deep",
    Lack.SLOW: "too slow",
    Lack.QUICK: "too quick",
    Lack.SCRAPS: "only scraps suit",
}
"""What keeps a run out of shape."""

FACTORS: tuple[tuple[str, str], ...] = (
    ("factor_depth", "depth"),
    ("factor_speed", "speed"),
    ("factor_even", "evenness"),
    ("factor_size", "size"),
)
"""Factors of a score by column, as a card lists them."""

ENDINGS: Mapping[str, str] = {
    SwingEnd.HANGS: "Ends at the hang-down.",
    SwingEnd.STALLS: "Stalls in slow water before it hangs: strip in there.",
    SwingEnd.LEAVES: "Leaves its water for slower water: strip in there.",
    SwingEnd.TOUCHES: "Touches bottom on the way: take a lighter tip or cast more down.",
    SwingEnd.AGROUND: "Ends in water too thin to carry the fly.",
    SwingEnd.TIMEOUT: "Too slow to swing through.",
    SwingEnd.UNKNOWN: "Runs over water nobody knows: how it ends is not known.",
}
"""Sentence for each end of a swing."""

ENDS_IN: Mapping[str, str] = {
    SwingEnd.HANGS: "to the hang-down",
    SwingEnd.STALLS: "until it stalls in slow water: strip in there",
    SwingEnd.LEAVES: "until it leaves its water: strip in there",
    SwingEnd.TOUCHES: "and it touches bottom: take a lighter tip or cast more down",
}
"""The same, to follow a number of seconds."""

OF_ENSEMBLE: Mapping[str, str] = {
    Confidence.GOOD: "there in nearly every river that what you gave allows",
    Confidence.FAIR: "there in most rivers that what you gave allows",
    Confidence.LOW: "a guess: look before you trust it",
}
"""Meaning of a confidence that comes from an ensemble of grounds."""

LOGGED: Mapping[str, str] = {
    LogKind.TRIP: "Trip",
    LogKind.RUN: "Trips here",
    LogKind.EDGE: "Edge you saw",
    LogKind.SOUNDING: "Depth you measured",
    LogKind.SPEED: "Speed you measured",
    LogKind.HOLD: "Where fish held",
}
"""Titles of log entries by kind."""

DRAWN: Mapping[str, str] = {
    "edge": "Water's edge",
    "river": "River line, pointing downstream",
    "easy": "Within your limits",
    "careful": "Close to your limits",
    "no": "Beyond your limits: stay out",
    "unknown": "Not known: treat as beyond",
    "inside_bend": "Inside bend",
    "seam": "Seam water",
    "tailout": "Tailout",
    "soft_edge": "Soft edge",
    "even_run": "Even run, walking speed",
    "guess": "Little sure: numbers are a guess",
    "edge_band": "The edge lies somewhere in here",
    "found_run": "Stretches worked out for you",
    "own_run": "Your runs",
    "bar": "Bars and islands",
    "side_channel": "Side channels awake",
    "dead_arm": "Dead arms",
    "structure": "Buckets, slots, lees: where fish lie",
    "seam_line": "Seam line",
    "tailout_line": "Tailout, down to its lip",
    "left_over": "Suits you, but left alone: tap for why",
    "covered": "Where your fly swims rightly",
    "beyond": "No cast from a bank gets there: a boat",
    "only_left": "A cast gets there from river left alone",
    "only_right": "A cast gets there from river right alone",
    "band": "Where fish travel: darker where more pass",
    "lane": "Line where most fish pass",
    "room": "Clear room behind",
    "blocked": "No room for any cast you own",
    "tight": "Tight behind",
    "look": "Not mapped behind: look first",
    "swing": "Reach of the cast and its swing",
    "sounding": "Depths you measured",
    "ask": "A note here would help most",
    "station": "Where to stand and cast",
    "note": "Your notes",
    "trip": "Your log",
    "access": "Access",
    "hazard": "Hazards you marked",
    "unknown_water": "Not known: may be deep or fast",
}
"""Names in the map's key, by kind of feature."""
