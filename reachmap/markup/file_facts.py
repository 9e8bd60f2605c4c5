"""What became of each file of a reach folder; the words for it are `text.files`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Use(StrEnum):
    """What a file is used for."""

    SETTINGS = "settings"
    FITTED = "fitted"
    DRAWING = "drawing"
    TERRAIN = "terrain"
    TILE_LIST = "tile_list"
    CLOUD = "cloud"
    IMAGERY = "imagery"
    SOUNDER = "sounder"
    SOUNDINGS = "soundings"
    WALKED = "walked"
    FLOATED = "floated"
    PHOTO = "photo"
    PHOTO_EDGE = "photo_edge"
    PHOTO_LEVEL = "photo_level"
    RATING = "rating"
    RECORD = "record"
    MEASURED = "measured"
    GAUGE = "gauge"
    CLARITY = "clarity"
    WARMTH = "warmth"
    TIDE = "tide"
    RULES = "rules"
    LOG = "log"
    SOURCES = "sources"
    FORECAST = "forecast"
    BESIDE = "beside"
    NOTHING = "nothing"


class Unused(StrEnum):
    """Why a file is not used."""

    NONE = ""
    LINK_OUT = "link_out"
    REFUSED = "refused"
    EMPTY = "empty"
    OTHERS_NAMED = "others_named"
    NOT_GROUND = "not_ground"
    TIFF_PICTURE = "tiff_picture"
    TIFF_BYTES = "tiff_bytes"
    ELSEWHERE = "elsewhere"
    ODD_LIST = "odd_list"
    NO_LAYER = "no_layer"
    NAMELESS = "nameless"
    DRAWN_ALREADY = "drawn_already"
    RECORD_OUTSIDE = "record_outside"
    SECOND_RATING = "second_rating"
    NOTHING_IN_IT = "nothing_in_it"
    ARCHIVE = "archive"
    DOCUMENT = "document"
    COMPANION = "companion"
    DRAFT = "draft"
    SUBFOLDER = "subfolder"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class FileFact:
    """One file of the folder.

    Parameters
    ----------
    name
        Path within the folder; a folder none of whose files is used ends in a slash.
    use
        What it is used for.
    why
        Why not, where it is used for nothing.
    detail
        What was found, where the reason has more to say; "" for none.
    fix
        What to do, where only that reader knows; "" for the usual words.
    number
        How many depths, soundings or files; 0 where that says nothing.
    """

    name: str
    use: Use
    why: Unused = Unused.NONE
    detail: str = ""
    fix: str = ""
    number: int = 0
