"""Use made of each file of a reach folder, or why it is unused; worded in `text.files`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Use(StrEnum):
    """Use of a file."""

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
        Path within the folder; that of a subfolder without used files ends in a slash.
    use
        Its use.
    why
        Why it is not used, where it is not.
    detail
        What was found, in addition to the reason; "" for nothing.
    fix
        Remedy specific to the reader; "" for the standard wording.
    number
        Number of depths, soundings or files; 0 where not applicable.
    """

    name: str
    use: Use
    why: Unused = Unused.NONE
    detail: str = ""
    fix: str = ""
    number: int = 0
