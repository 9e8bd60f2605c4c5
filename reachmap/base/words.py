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
    EVEN_RUN = "even_run", "even water at about walking speed, from riffle to tailout"


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


class HazardWay(Word):
    """How one comes from a place to a drawn hazard; the first that holds counts."""

    HERE = "here", "it lies in the water fished, within the cast's sweep, or where one stands"
    CURRENT = "current", "the current leads to it"
    WALK = "walk", "one comes to it on foot"
    STRAIGHT = "straight", "it is near, but neither current nor walk leads to it"


class Toward(Word):
    """On which side of a place a hazard lies."""

    UP = "up", "up the river"
    DOWN = "down", "down the river"
    ACROSS = "across", "beside the place or over the river"


class ChannelKind(Word):
    """A kind of wet channel."""

    MAIN = "main", "the way downstream that carries most of the water"
    SIDE = "side", "leaves the main channel and rejoins it"
    DEAD_ARM = "dead arm", "open to the river at one end only"


class ChannelEnd(Word):
    """Where a channel begins or ends."""

    HEAD = "head", "the upper end of the mapped river"
    FOOT = "foot", "the lower end of the mapped river"
    SPLIT = "split", "one channel becomes several"
    JUNCTION = "junction", "several channels become one"
    CROSSING = "crossing", "several channels meet and part again"
    ARM = "arm", "only a dead arm joins"
    END = "end", "the water ends"


class Stretch(Word):
    """Where along a stretch of river something lies."""

    UPPER = "upper", "at its upper end"
    MIDDLE = "middle", "about its middle"
    LOWER = "lower", "at its lower end"


class WayIn(Word):
    """How one gets to a place to stand."""

    FOOT = "foot", "on foot from a drawn access"
    BOAT = "boat", "by boat only: no way on foot is drawn"
    UNKNOWN = "unknown", "no access is drawn"


class Footing(Word):
    """From where a piece of water is fished."""

    DRY = "dry", "from dry ground"
    EASY = "easy", "standing in water within the limits"
    NO = "no", "no place to stand has room to cast"
    UNKNOWN = "unknown", "there are places, but what stands behind them is not mapped"


class LoopSide(Word):
    """On which side of the angler the loop of line lies."""

    UPSTREAM = "upstream", "upstream of the angler"
    DOWNSTREAM = "downstream", "downstream of the angler"
    EITHER = "either", "on whichever side one likes"


class SwingEnd(Word):
    """How a swing ends."""

    HANGS = "hangs", "the line points down the current, or the fly has come to rest nearly there"
    STALLS = "stalls", "the fly stands still with the line across: slack water holds it"
    AGROUND = "aground", "the fly swings into water too thin to carry it"
    UNKNOWN = "unknown", "line or fly comes over water or ground nobody knows"
    TIMEOUT = "timeout", "it takes longer than the longest time followed"
    LEAVES = "leaves", "the fly leaves its water for slower water and would hang only much later"
    TOUCHES = "touches", "the fly touches bottom on the way"


class TipWant(Word):
    """Which tip a swing wants that is not owned."""

    HEAVIER = "heavier", "heavier than any tip owned"
    LIGHTER = "lighter", "lighter than any tip owned"


class Strip(Word):
    """Which water a swing is planned for."""

    INSIDE = "inside", "the near water, along the soft edge"
    OUTSIDE = "outside", "the water outside the near strip"


class MendTo(Word):
    """To which side the line is mended."""

    UP = "up", "up the current: it slows and sinks the fly"
    DOWN = "down", "down the current: it hastens the fly"


class HangDown(Word):
    """What to do when the line hangs down the current."""

    STEP = "step", "take the step to the next cast while it hangs"
    PULL = "pull", "short pulls: the current alone no longer moves the fly"
    LIFT = "lift", "lift at once: the fly hangs on the bottom or in too thin water"


class WouldHelp(Word):
    """What would help where no plan serves."""

    LONGER_CAST = "longer cast", "the strip lies beyond the longest cast"
    HEAVIER_TIP = "heavier tip", "no tip owned takes the fly deep enough"
    LIGHTER_TIP = "lighter tip", "every tip owned drags on the bottom"
    OTHER_BANK = "from the other bank", "the fly swims badly from here; somebody could stand there"
    BOAT = "from a boat", "the fly swims badly from every bank"


class NamedBy(Word):
    """Who gave a run its name."""

    ANGLER = "angler", "the angler drew and named it"
    REACHMAP = "reachmap", "found and named by rule"


class SurveyKind(Word):
    """What to note at a place so that the map becomes surer."""

    SOUNDING = "sounding", "the depth and the river's flow"
    EDGE = "edge", "where the water's edge stands, and the flow"
    STICK = "stick", "how fast a stick drifts, and the flow"


class SurveyWay(Word):
    """How one comes to a place worth a note; never a promise that it can be waded or floated."""

    FOOT = "foot", "by water joined to a bank and well within your limit at the lowest flow"
    BOAT = "boat", "by boat, or not at all: too deep, too fast or not known well enough to stand"
    BANK = "bank", "from dry ground"


class Lack(Word):
    """What keeps a run out of shape at a flow, or water within the limits from being a piece."""

    DEPTH = "depth", "the depth of its best water hardly suits"
    SPEED = "speed", "the speed of its best water hardly suits"
    UNEVEN = "uneven", "the speed of its best water varies down the run"
    SMALL = "small", "its best water is too small"
    REACH = "reach", "its best water is out of casting reach"
    UNKNOWN = "unknown", "the water there is not known"
    DRY = "dry", "there is no water"
    THIN = "thin", "too shallow"
    DEEP = "deep", "too deep"
    SLOW = "slow", "too slow"
    QUICK = "quick", "too quick"
    SCRAPS = "scraps", "only small pieces of it suit"


class LogKind(Word):
    """What a row of the log stands for."""

    TRIP = "trip", "a trip with a place"
    RUN = "run", "trips to a run, without a place of their own"
    EDGE = "edge", "an edge of the water, seen"
    SOUNDING = "sounding", "a measured depth"
    SPEED = "speed", "a measured speed"
    HOLD = "hold", "a place where fish held"


class Wet(IntEnum):
    """Codes of the `wet` field: dry and unknown are two things."""

    NO = 0
    YES = 1
    UNKNOWN = 2


COVER_CODES: dict[Cover, int] = {cover: code for code, cover in enumerate(Cover, start=1)}
"""Codes of the `cover` field on the ground raster; 0 is unknown."""
