"""The words of the trade as reachmap uses them: one word, one meaning.

Each member carries the angler's definition in `meaning`; `docs/words.md` is made from this file.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum


class Word(StrEnum):
    """A word with its meaning beside it."""

    meaning: str

    def __new__(cls, value: str, meaning: str = "") -> Word:
        """Make the member so that it is a plain string that knows its meaning."""
        member = str.__new__(cls, value)
        member._value_ = value
        member.meaning = meaning
        return member


class UnitSystem(Word):
    """How plain numbers in a reach folder are read and shown."""

    US = "us", "feet, feet per second, cubic feet per second, yards"
    METRIC = "metric", "metres, metres per second, cubic metres per second"


class Side(Word):
    """Which side of the river, looking downstream."""

    LEFT = "left", "river left: the left bank when you look downstream"
    RIGHT = "right", "river right: the right bank when you look downstream"
    ISLAND = "island", "ground with water on both sides"


class Part(Word):
    """Which channel a drawn river line follows."""

    MAIN = "main", "the main channel"
    SIDE = "side", "a side channel that leaves and rejoins, or a tributary"


class Cover(Word):
    """What grows or lies on a piece of bank."""

    GRAVEL = "gravel", "bare gravel or cobble"
    SAND = "sand", "bare sand or silt"
    GRASS = "grass", "grass or low herbs"
    BRUSH = "brush", "shrubs or willow a line catches in"
    TREES = "trees", "standing trees"
    ROCK = "rock", "bedrock or large boulders"
    CUTBANK = "cutbank", "a steep raw bank"
    BUILT = "built", "wall, riprap, road or building"


class HazardKind(Word):
    """What can hurt a person who wades or drifts."""

    STRAINER = "strainer", "wood or brush that lets water through but not a person"
    LEDGE = "ledge", "a sudden step down in the bed"
    UNDERCUT = "undercut", "a bank or rock the current runs beneath"
    SOFT_BOTTOM = "soft bottom", "mud or quicksand that holds a boot"
    COLD_INFLOW = "cold inflow", "a spring or side stream much colder than the river"
    OTHER = "other", "anything else; the note says what"


class AccessKind(Word):
    """How one gets to the water."""

    PARKING = "parking", "a place to leave a vehicle"
    PATH = "path", "where a path meets the bank"
    LANDING = "landing", "where a boat can land"
    FORD = "ford", "where anglers cross at some flows"


class SpeedHow(Word):
    """How a speed was measured."""

    SURFACE = "surface", "timed a stick on the surface"
    MEAN = "mean", "mean over the depth, by meter"


class WaterKind(Word):
    """A kind of water worth fishing."""

    INSIDE_BEND = "inside_bend", "soft water on the inner side of a curve"
    SEAM = "seam", "the slower side of the line where two currents of different speed meet"
    TAILOUT = "tailout", "lower end of a pool or run, where the bed rises to the lip"
    SOFT_EDGE = "soft_edge", "slow band along a bank"


class WadeGrade(Word):
    """How a stretch of water grades for one person on foot; never a promise."""

    EASY = "easy", "well within the limits you set, joined to a bank by water like it"
    CAREFUL = "careful", "within the limits but close to them; slow down, use a staff"
    NO = "no", "beyond the limits: stay out"
    UNKNOWN = "unknown", "not known: treat it as beyond the limits"


class RiverKind(Word):
    """In how many threads a river runs."""

    SINGLE = "single", "one thread, with an island here and there"
    BRAIDED = "braided", "several threads over much of its length"


class WadeRule(Word):
    """A published rule on wading, by the name it goes by here."""

    TEN = "rule of ten", "depth in feet times speed in feet per second stays under ten"
    FAILURE = "failure tests", "where people in a flume lost their footing (Abt and others 1989)"
    GOOD = "good conditions", "Karvonen and others 2000, good conditions"
    NORMAL = "normal conditions", "Karvonen and others 2000, normal conditions"
    POOR = "poor conditions", "Karvonen and others 2000, poor conditions: cobbles, cold, low light"
    FLOOD = "flood hazard", "Cox, Shand and Blacka 2010, low hazard for adults"
    ADVICE = "emergency advice", "advice of emergency services on depth and on speed"


class Confidence(Word):
    """How sure the tool is of a number, from what it was given."""

    LOW = "low", "a guess from little evidence"
    FAIR = "fair", "likely in kind and place, unsure in size"
    GOOD = "good", "well supported by what was measured"


class Season(Word):
    """Which run of fish the limits are for."""

    WINTER = "winter", "cold water: slower, softer water"
    SUMMER = "summer", "warmer water: faster water too"


class Hand(Word):
    """Which hand holds the upper grip of the rod."""

    LEFT = "left", "left hand up"
    RIGHT = "right", "right hand up"


class Cast(Word):
    """Casts of the two-handed trade."""

    SINGLE_SPEY = "single spey", "touch-and-go change of direction, loop on the upstream side"
    DOUBLE_SPEY = "double spey", "sustained anchor, loop on the downstream side"
    SNAP_T = "snap-T", "sustained anchor set by a snap, loop on the upstream side"
    CIRCLE_C = "circle C", "sustained anchor set by a circle, loop on the upstream side"
    PERRY_POKE = "perry poke", "sustained anchor, line dumped in front, very little room behind"
    SNAKE_ROLL = "snake roll", "touch-and-go, loop on the downstream side"
    UNDERHAND = "underhand", "compact touch-and-go stroke with a short head"
    STATIC_ROLL = "static roll", "line hangs beside the angler, almost no room behind"
    OVERHEAD = "overhead", "the whole line straightens behind the angler"


class CastFit(Word):
    """Whether a cast has the room it needs behind the angler."""

    FITS = "fits", "room for the D-loop with a margin"
    TIGHT = "tight", "room only within the doubt of the numbers"
    NO = "no", "cover or bank is in the way"
    UNKNOWN = "unknown", "nobody mapped what is behind: look before you cast"


class Wet(IntEnum):
    """Codes of the `wet` field: dry and unknown are two things."""

    NO = 0
    YES = 1
    UNKNOWN = 2


COVER_CODES: dict[Cover, int] = {cover: code for code, cover in enumerate(Cover, start=1)}
"""Codes of the `cover` field on the ground raster; 0 is unknown."""
