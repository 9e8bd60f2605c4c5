"""Words of runs, their parts and structures, and of the day's list of them."""

from __future__ import annotations

from reachmap.base.words import Word


class RunPart(Word):
    """Part of a run, downstream: a third each."""

    HEAD = "head", "its upper third"
    BELLY = "belly", "its middle third"
    TAIL = "tail", "its lower third"


class OnlyFrom(Word):
    """From where alone a cast gets to a patch of swing water."""

    LEFT = "left", "from places on river left, and on islands"
    RIGHT = "right", "from places on river right, and on islands"
    BOAT = "boat", "from no place on a bank or an island: from a boat"


class Shut(Word):
    """Why a run is not one to go to at a flow."""

    SHAPE = "out of shape", "no water of it fishes at this flow"
    STAND = "no stand", "no place to stand within the limits reaches its water"
    ROOM = "no room", "no place to stand has room for a cast"
    WAY = "no way in", "no way leads there for this person: by boat only"
    BANK = "other bank", "its places lie on the other bank from the one this person fishes"
    SCRAP = "too little", "less than 40 yards of bank to fish it from"
    UNKNOWN = "not known", "its water, or what lies behind its places, is not known"


class Mind(Word):
    """The one thing to mind at a run, what matters most first."""

    HAZARD = "hazard", "a drawn hazard lies near"
    WAY_BACK = "way back", "more water cuts off the way back"
    MORE_WATER = "more water", "a little more water shuts its places"
    WADING = "wading", "one stands deep"
    ROOM = "room", "little room behind"


class StructureKind(Word):
    """A feature of bed or current that holds fish."""

    BUCKET = "bucket", "a local hollow in the bed, deeper than all around it"
    SLOT = "slot", "a narrow deep lane along the flow, higher bed on both sides"
    LEDGE_POOL = "ledge_pool", "the pool below a step in the bed"
    DROP_OFF = "drop_off", "the edge of a shelf, where shallow bed falls into deeper water"
    BOULDER_LEE = "boulder_lee", "slack water below a boulder"
    EDDY_LINE = "eddy_line", "slack water below a point of the bank, beside the current it turns"
    ROCK_GARDEN = "rock_garden", "boulders close together, with pockets of slack between"


class Support(Word):
    """What says that a structure is there."""

    DEM = "dem", "ground that the terrain model saw"
    SOUNDINGS = "soundings", "soundings near by"
    ROCKS = "rocks", "rocks that you drew"
    MARK = "mark", "your own mark"
