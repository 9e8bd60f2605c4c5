"""Each file of a reach folder in words: what it is used for, or why it is not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reachmap.markup.file_facts import FileFact, Unused, Use

MOST_LISTED = 60
"""Most unused files that are listed (our choice); the others are counted."""

USES = {
    Use.SETTINGS: "the folder's settings",
    Use.FITTED: "what reachmap fit found",
    Use.DRAWING: "the drawing",
    Use.TERRAIN: "heights of the ground",
    Use.TILE_LIST: "a list of tiles: the tiles that it names are read",
    Use.IMAGERY: "the picture from the air under the map",
    Use.CLOUD: "returns of a lidar along the river: crowns, gaps and heights of cover",
    Use.SOUNDER: "depths of an echo sounder",
    Use.SOUNDINGS: "soundings",
    Use.WALKED: "walked along the water's edge",
    Use.FLOATED: "speeds of a drift",
    Use.PHOTO: "a photo, kept as a note",
    Use.PHOTO_EDGE: "a photo taken at the water's edge",
    Use.PHOTO_LEVEL: "a photo with the height of the water",
    Use.RATING: "rating of the gauge",
    Use.RECORD: "record of the gauge",
    Use.MEASURED: "measurements of the gauge's flow",
    Use.GAUGE: "the gauge",
    Use.CLARITY: "how far you saw, for the days",
    Use.WARMTH: "how warm the water was, for the map and the days",
    Use.TIDE: "the tide, for the days",
    Use.RULES: "closed dates, hours and runs, for the days",
    Use.LOG: "the log of your trips",
    Use.SOURCES: "where fetched files came from",
    Use.FORECAST: "a forecast, for the days: give it with --forecast",
    Use.BESIDE: "belongs to a file beside it",
}
"""What a file is used for."""

REASONS = {
    Unused.REFUSED: ("it cannot be used", "Export it again, or take it out"),
    Unused.EMPTY: ("it is empty", "Copy it again, or take it out"),
    Unused.OTHERS_NAMED: (
        "reach.toml names the files of its kind, and not this one",
        "Add it to files there, or take that line out",
    ),
    Unused.NOT_GROUND: (
        "by its name it is no bare ground but made from it, or has the trees in it",
        "If it is the ground's heights, let its name begin with dem",
    ),
    Unused.TIFF_PICTURE: (
        "it is a picture: no heights, and depths are not read from one",
        "To draw over it, bring it in on the page: reachmap mark",
    ),
    Unused.TIFF_BYTES: (
        "its cells are shades or classes, not heights",
        "If it is the ground's heights, let its name begin with dem",
    ),
    Unused.ELSEWHERE: (
        "it lies away from the river line",
        "Take it out; if it is of this reach, look at its CRS",
    ),
    Unused.ODD_LIST: ("it is no plain list of tiles", "Put the tiles themselves into the folder"),
    Unused.NO_LAYER: (
        "nothing in it is called like a layer (river, banks, soundings ...), and it has no depths",
        "Bring it in on the page (reachmap mark), or name its folders or <type> by the layers; a "
        "track walked along the water's edge is used where its name says edge, one of a boat that "
        "drifted where it says float",
    ),
    Unused.NAMELESS: (
        "its name says no layer",
        "Call it by the layer it holds, as river.geojson or banks.shp, or bring it in on the page "
        "(reachmap mark)",
    ),
    Unused.DRAWN_ALREADY: (
        "what it holds is drawn in another file",
        "Take one of the two out",
    ),
    Unused.RECORD_OUTSIDE: (
        "it looks like a gauge's record or rating, and lies outside the folder gauge/",
        "Move it into gauge/ if it is this gauge's",
    ),
    Unused.SECOND_RATING: (
        "another file's rating is in force",
        "Keep the one in force in gauge/",
    ),
    Unused.NOTHING_IN_IT: (
        "it holds no rating and no record that is read",
        "Put a table of stage_ft,flow_cfs or time,flow_cfs there",
    ),
    Unused.ARCHIVE: ("it is packed", "Unpack it here"),
    Unused.DOCUMENT: ("it is a text that says nothing of the river's shape", ""),
    Unused.COMPANION: ("it lies beside another file, and is not read by itself", ""),
    Unused.DRAFT: (
        "it is a draft made from terrain: nothing in it counts before you accept it",
        "Accept, move or drop its pieces on the page: reachmap mark",
    ),
    Unused.SUBFOLDER: (
        "nothing is read from this subfolder",
        "Put what belongs to the map beside reach.toml, or name it under files in reach.toml",
    ),
    Unused.UNKNOWN: ("it is of no kind that is read (docs/evidence.md)", ""),
}
"""Why a file is not used, and what to do."""


def use_words(fact: FileFact) -> str:
    """Return what a file is used for; "" where it is not."""
    if fact.use is Use.NOTHING:
        return ""
    words = USES[fact.use]
    if fact.use is Use.DRAWING and fact.detail:
        words = f"the drawing: {fact.detail}"
    elif fact.use in {Use.RATING, Use.RECORD, Use.MEASURED} and fact.detail:
        words = f"{words}, {fact.detail}"
    if fact.use is Use.WALKED:
        many = "" if fact.number == 1 else "s"
        return f"{fact.number} stretch{many and 'es'} {words}, {fact.detail}"
    if fact.use is Use.PHOTO and fact.detail:
        return f"{words}: {fact.detail}"
    if fact.use in {Use.PHOTO_EDGE, Use.PHOTO_LEVEL} or (fact.use is Use.TERRAIN and fact.detail):
        return f"{words}, {fact.detail}"
    if fact.use is Use.FLOATED:
        return f"{fact.number} {words}, {fact.detail}"
    if fact.number and fact.use in {Use.SOUNDER, Use.SOUNDINGS, Use.CLOUD}:
        return f"{fact.number:,} {words}"
    return words


def unused_words(fact: FileFact) -> tuple[str, str]:
    """Return why a file is not used and what to do, each without a full stop; ("", "") if it is."""
    if fact.use is not Use.NOTHING:
        return "", ""
    why, fix = REASONS.get(fact.why, ("", ""))
    if fact.why is Unused.DRAWN_ALREADY and fact.detail:
        return f"{why} ({fact.detail})", fix
    if fact.why is Unused.SUBFOLDER and fact.number:
        return f"{why} ({fact.number} file{'' if fact.number == 1 else 's'})", fix
    return fact.detail or why, fact.fix or fix


def file_lines(facts: Sequence[FileFact]) -> list[str]:
    """Return every file of a folder: what it is used for, then those that are not used and why."""
    used = [one for one in facts if one.use not in (Use.NOTHING, Use.BESIDE)]
    wide = max((len(one.name) for one in used), default=0)
    lines = ["Files used:"] if used else []
    lines += [f"  {one.name:<{wide}}  {use_words(one)}" for one in used]
    return [*lines, *not_used_lines(facts)]


def not_used_lines(facts: Sequence[FileFact]) -> list[str]:
    """Return the files that are not used, why, and what to do."""
    left = [one for one in facts if one.use is Use.NOTHING]
    lines = ["Files not used:"] if left else []
    for one in left[:MOST_LISTED]:
        why, fix = unused_words(one)
        lines.append(f"  {one.name}: {why}.{f' {fix}.' if fix else ''}")
    more = len(left) - MOST_LISTED
    return [*lines, f"  and {more} more (report.json has all)"] if more > 0 else lines


def file_rows(facts: Sequence[FileFact]) -> list[dict[str, Any]]:
    """Return every file of a folder as plain JSON values for the report."""
    rows = []
    for one in facts:
        why, fix = unused_words(one)
        rows.append(
            {
                "name": one.name,
                "used_for": use_words(one) or None,
                "why_not": why or None,
                "what_to_do": fix or None,
            }
        )
    return rows
