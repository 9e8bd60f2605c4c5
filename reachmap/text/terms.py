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
    StructureKind.BUCKET: noted("bucket"),
    StructureKind.SLOT: noted("slot"),
    StructureKind.LEDGE_POOL: noted("ledge pool"),
    StructureKind.DROP_OFF: noted("drop-off"),
    StructureKind.BOULDER_LEE: noted("boulder lee"),
    StructureKind.EDDY_LINE: noted("eddy below a point"),
    StructureKind.ROCK_GARDEN: noted("rock garden"),
}
"""Structures in a sentence."""

SUPPORTS: Mapping[str, str] = {
    Support.DEM: noted("the terrain model"),
    Support.SOUNDINGS: noted("soundings near by"),
    Support.ROCKS: noted("rocks you drew"),
    Support.MARK: noted("your own mark"),
}
"""Evidence for a structure."""

SIDES: Mapping[str, str] = {
    Side.LEFT: noted("river left"),
    Side.RIGHT: noted("river right"),
    Side.ISLAND: noted("on the island"),
}
"""Sides, as a place."""

FROM_BANK: Mapping[str, str] = {
    Side.LEFT: noted("from river left"),
    Side.RIGHT: noted("from river right"),
    Side.ISLAND: noted("from the island or bar"),
}
"""Sides, as where one fishes from."""

STRETCHES: Mapping[str, str] = {
    Stretch.UPPER: noted("at its upper end"),
    Stretch.MIDDLE: noted("about its middle"),
    Stretch.LOWER: noted("at its lower end"),
}
"""Parts of a run or structure."""

WADED: Mapping[str, str] = {
    Footing.DRY: noted("from dry ground"),
    Footing.EASY: noted("within your limits"),
    Footing.NO: noted("no place within your limits"),
    Footing.UNKNOWN: noted("no place to stand was found"),
}
"""How one wades to a piece of water."""

LACKS: Mapping[str, str] = {
    Lack.DEPTH: noted("depth hardly suits"),
    Lack.SPEED: noted("speed hardly suits"),
    Lack.UNEVEN: noted("uneven"),
    Lack.SMALL: noted("too small"),
    Lack.REACH: noted("out of casting reach"),
    Lack.UNKNOWN: noted("not known"),
    Lack.DRY: noted("dry"),
    Lack.THIN: noted("too thin"),
    Lack.DEEP: noted("too deep"),
    Lack.SLOW: noted("too slow"),
    Lack.QUICK: noted("too quick"),
    Lack.SCRAPS: noted("only scraps suit"),
}
"""What keeps a run out of shape."""

FACTORS: tuple[tuple[str, str], ...] = (
    ("factor_depth", noted("depth")),
    ("factor_speed", noted("speed")),
    ("factor_even", noted("evenness")),
    ("factor_size", noted("size")),
)
"""Factors of a score by column, as a card lists them."""

ENDINGS: Mapping[str, str] = {
    SwingEnd.HANGS: noted("Ends at the hang-down."),
    SwingEnd.STALLS: noted("Stalls in slow water before it hangs: strip in there."),
    SwingEnd.LEAVES: noted("Leaves its water for slower water: strip in there."),
    SwingEnd.TOUCHES: noted("Touches bottom on the way: take a lighter tip or cast more down."),
    SwingEnd.AGROUND: noted("Ends in water too thin to carry the fly."),
    SwingEnd.TIMEOUT: noted("Too slow to swing through."),
    SwingEnd.UNKNOWN: noted("Runs over water nobody knows: how it ends is not known."),
}
"""Sentence for each end of a swing."""

ENDS_IN: Mapping[str, str] = {
    SwingEnd.HANGS: noted("to the hang-down"),
    SwingEnd.STALLS: noted("until it stalls in slow water: strip in there"),
    SwingEnd.LEAVES: noted("until it leaves its water: strip in there"),
    SwingEnd.TOUCHES: noted("and it touches bottom: take a lighter tip or cast more down"),
}
"""The same, to follow a number of seconds."""

OF_ENSEMBLE: Mapping[str, str] = {
    Confidence.GOOD: noted("there in nearly every river that what you gave allows"),
    Confidence.FAIR: noted("there in most rivers that what you gave allows"),
    Confidence.LOW: noted("a guess: look before you trust it"),
}
"""Meaning of a confidence that comes from an ensemble of grounds."""

LOGGED: Mapping[str, str] = {
    LogKind.TRIP: noted("Trip"),
    LogKind.RUN: noted("Trips here"),
    LogKind.EDGE: noted("Edge you saw"),
    LogKind.SOUNDING: noted("Depth you measured"),
    LogKind.SPEED: noted("Speed you measured"),
    LogKind.HOLD: noted("Where fish held"),
}
"""Titles of log entries by kind."""

DRAWN: Mapping[str, str] = {
    "edge": noted("Water's edge"),
    "river": noted("River line, pointing downstream"),
    "easy": noted("Within your limits"),
    "careful": noted("Close to your limits"),
    "no": noted("Beyond your limits: stay out"),
    "unknown": noted("Not known: treat as beyond"),
    "inside_bend": noted("Inside bend"),
    "seam": noted("Seam water"),
    "tailout": noted("Tailout"),
    "soft_edge": noted("Soft edge"),
    "even_run": noted("Even run, walking speed"),
    "guess": noted("Little sure: numbers are a guess"),
    "edge_band": noted("The edge lies somewhere in here"),
    "found_run": noted("Stretches worked out for you"),
    "own_run": noted("Your runs"),
    "bar": noted("Bars and islands"),
    "side_channel": noted("Side channels awake"),
    "dead_arm": noted("Dead arms"),
    "structure": noted("Buckets, slots, lees: where fish lie"),
    "seam_line": noted("Seam line"),
    "tailout_line": noted("Tailout, down to its lip"),
    "left_over": noted("Suits you, but left alone: tap for why"),
    "covered": noted("Where your fly swims rightly"),
    "beyond": noted("No cast from a bank gets there: a boat"),
    "only_left": noted("A cast gets there from river left alone"),
    "only_right": noted("A cast gets there from river right alone"),
    "band": noted("Where fish travel: darker where more pass"),
    "lane": noted("Line where most fish pass"),
    "room": noted("Clear room behind"),
    "blocked": noted("No room for any cast you own"),
    "tight": noted("Tight behind"),
    "look": noted("Not mapped behind: look first"),
    "swing": noted("Reach of the cast and its swing"),
    "sounding": noted("Depths you measured"),
    "ask": noted("A note here would help most"),
    "station": noted("Where to stand and cast"),
    "note": noted("Your notes"),
    "trip": noted("Your log"),
    "access": noted("Access"),
    "hazard": noted("Hazards you marked"),
    "unknown_water": noted("Not known: may be deep or fast"),
}
"""Names in the map's key, by kind of feature."""
