"""Colours and patterns of everything drawn, shared by the map and the sheet.

Every kind has a colour, a pattern and a letter, so that none differs by colour alone. Day colours
are for paper and for a screen in the sun, night colours preserve dark adaptation. All of them are
our choice; `tests/outputs/test_palette.py` checks their contrast and their distance for
colour-blind readers.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.text.terms import DRAWN


class Pattern(StrEnum):
    """Fill pattern of an area."""

    NONE = "none"
    DOTS = "dots"
    SLANT = "slant"
    LEVEL = "level"
    UPRIGHT = "upright"
    CROSS = "cross"
    BRICK = "brick"
    SPECKS = "specks"


class Shape(StrEnum):
    """Geometry of a kind as drawn."""

    AREA = "area"
    LINE = "line"
    MARK = "mark"


@dataclass(frozen=True, slots=True)
class Tone:
    """Colours of one kind by day or by night, as #rrggbb; an empty `fill` is transparent.

    `casing` surrounds `ink` for contrast on any water; `hatch` is the colour of the pattern, where
    the ink would not contrast with the fill.
    """

    ink: str
    casing: str
    fill: str = ""
    hatch: str = ""

    @property
    def pattern(self) -> str:
        """Return the colour of the pattern."""
        return self.hatch or self.ink


@dataclass(frozen=True, slots=True)
class Style:
    """Style of one kind.

    Parameters
    ----------
    kind
        Name in the data.
    letter
        Letter before a number, or in a mark.
    shape
        Area, line or mark.
    day, night
        Colours.
    pattern
        Fill pattern of an area.
    width
        Of the line or outline [screen px].
    dash
        Lengths of dash and gap [screen px]; none for a whole line.
    veil
        Opacity of the fill over the water, 0 to 1.
    """

    kind: str
    letter: str
    shape: Shape
    day: Tone
    night: Tone
    pattern: Pattern = Pattern.NONE
    width: float = 2.0
    dash: tuple[float, ...] = ()
    veil: float = 0.5

    @property
    def words(self) -> str:
        """Return its name in the legend."""
        return tr(DRAWN[self.kind])


PAPER, INK = "#f5f0e5", "#1c2a2b"
NIGHT, LAMP = "#10181b", "#e9dfc9"
"""Background and text, by day and by night."""

_PALE, _DARK = "#fffdf6", "#0b1214"


def _pair(ink: str, fill: str, night_ink: str, night_fill: str) -> tuple[Tone, Tone]:
    """Return the tones of a kind by day and by night."""
    return Tone(ink, _PALE, fill), Tone(night_ink, _DARK, night_fill)


_AMBER = _pair("#5a4200", "#ffcb3d", "#ffd768", "#8f6f14")
_ROSE = _pair("#86094d", "#f29ac6", "#ff9ccb", "#7d2f6d")
_CLAY = _pair("#6a2500", "#e2692a", "#ffb084", "#9a3f0c")
_HEATHER = _pair("#2f2a78", "#b9b4f5", "#c7c3ff", "#4b4796")
_WILLOW = _pair("#26451f", "#eef8d9", "#e2f5cc", "#5f7850")
_RIVER = _pair("#16333d", "", "#9fc4c6", "")
_PLUM = _pair("#8d004a", "", "#ff96c6", "")
_VIOLET = _pair("#3b1470", "", "#c9a8ff", "")
_HAZE = _pair("#3b1470", "#7a4fc0", "#c9a8ff", "#7a5cb0")
_RIBBON = (
    Tone("#0f4a3c", _PALE, "#c5f7e4"),
    Tone("#d7f3e9", _DARK, "#5f9a8b", _DARK),
)
_SUN = _pair("#573c00", "#f6ad1f", "#ffd27a", "#85590a")
_STRAW = _pair("#57450f", "#f6dd95", "#ecd08a", "#6d5a26")
_COAL = (Tone("#17191a", _PALE, "#3a3d3e", _PALE), Tone("#f0ece4", _DARK, "#000000"))
_STONE = _pair("#3f362c", "#c6bfb8", "#c9bda9", "#3f3930")
_TEAL = _pair("#0d3b46", "#fffdf6", "#bfe3e6", "#10181b")
_RUST = _pair("#7a0f0a", "#7a0f0a", "#ffb4a6", "#6b1712")
_DOUBT = _pair("#16333d", "#f5f0e5", "#9fc4c6", "#10181b")
_LOAM = _pair("#57450f", "#fff6cf", "#ecd08a", "#2c2718")
_INK = _pair("#1c2a2b", "#1c2a2b", "#e9dfc9", "#3a4a4d")
_DEEP = _pair("#0a2a6b", "#7fa6e8", "#a9c6ff", "#2a4a86")
_CREAM = _pair("#1c2a2b", "#fff6cf", "#e9dfc9", "#4c4630")

_A, _L, _M, _P = Shape.AREA, Shape.LINE, Shape.MARK, Pattern

STYLES: tuple[Style, ...] = (
    Style("edge", "", _A, *_RIVER, _P.NONE, 1.6),
    Style("river", "", _L, *_RIVER, _P.NONE, 1.4),
    Style("easy", "", _A, *_RIBBON, _P.SPECKS, 1.4, (2, 4), 0.75),
    Style("careful", "", _A, *_SUN, _P.SLANT, 1.8, (), 0.75),
    Style("no", "", _A, *_COAL, _P.CROSS, 2.2, (), 0.75),
    Style("unknown", "?", _A, *_STONE, _P.BRICK, 2.0, (6, 4), 0.92),
    Style("even_run", "G", _A, *_HEATHER, _P.SPECKS, 2.5, (), 0.62),
    Style("inside_bend", "B", _A, *_AMBER, _P.DOTS, 2.5, (), 0.62),
    Style("seam", "S", _A, *_ROSE, _P.SLANT, 2.5, (), 0.62),
    Style("tailout", "T", _A, *_CLAY, _P.LEVEL, 2.5, (), 0.62),
    Style("soft_edge", "E", _A, *_WILLOW, _P.UPRIGHT, 2.5, (), 0.7),
    Style(
        "unknown_water",
        "?",
        _A,
        *_STONE,
        _P.BRICK,
        2.0,
        (6, 4),
        0.92,
    ),
    Style("guess", "", _A, *_STONE, _P.SPECKS, 0.0, (), 0.5),
    Style("edge_band", "", _A, *_DOUBT, _P.SLANT, 0.0, (), 0.6),
    Style("found_run", "", _A, *_TEAL, _P.NONE, 1.6, (3, 5), 0.0),
    Style("own_run", "", _A, *_TEAL, _P.NONE, 2.2, (14, 4), 0.0),
    Style("bar", "", _A, *_LOAM, _P.NONE, 2.0, (2, 5), 0.0),
    Style("side_channel", "", _L, *_RIVER, _P.NONE, 2.6, (11, 6)),
    Style("dead_arm", "", _L, *_RIVER, _P.NONE, 2.2, (2, 6)),
    Style("structure", "H", _A, *_DEEP, _P.NONE, 2.6, (), 0.35),
    Style("seam_line", "", _L, *_PLUM, _P.NONE, 3.2, (13, 5, 2, 5)),
    Style("tailout_line", "", _L, *_CLAY, _P.NONE, 3.0, (7, 4)),
    Style("band", "", _A, *_HAZE, _P.NONE, 0.0, (), 0.3),
    Style("left_over", "", _A, *_CLAY, _P.NONE, 1.6, (2, 4), 0.0),
    Style("covered", "", _A, *_TEAL, _P.LEVEL, 0.8, (), 0.3),
    Style("only_left", "", _A, *_LOAM, _P.SLANT, 1.0, (1, 3), 0.0),
    Style("only_right", "", _A, *_LOAM, _P.UPRIGHT, 1.0, (1, 3), 0.0),
    Style("beyond", "", _A, *_LOAM, _P.CROSS, 1.2, (3, 3), 0.0),
    Style("lane", "", _L, *_VIOLET, _P.NONE, 3.4, (0.1, 8)),
    Style("room", "", _A, *_WILLOW, _P.UPRIGHT, 1.6, (), 0.75),
    Style("blocked", "", _A, *_COAL, _P.CROSS, 1.6, (), 0.5),
    Style("tight", "", _A, *_STRAW, _P.SLANT, 1.6, (), 0.75),
    Style("look", "?", _A, *_STONE, _P.BRICK, 1.6, (5, 4), 0.8),
    Style("swing", "", _L, *_TEAL, _P.NONE, 2.0, (9, 4)),
    Style("sounding", "", _M, *_TEAL, _P.NONE, 1.6),
    Style("ask", "", _M, *_LOAM, _P.NONE, 2.0),
    Style("station", "", _M, *_TEAL, _P.NONE, 2.4),
    Style("note", "n", _M, *_CREAM, _P.NONE, 1.6),
    Style("trip", "L", _M, *_TEAL, _P.NONE, 2.0),
    Style("access", "P", _M, *_INK, _P.NONE, 2.0),
    Style("hazard", "!", _M, *_RUST, _P.CROSS, 3.0, (10, 3), 0.3),
)
"""Every kind, in drawing order from the bottom up."""

BY_KIND: dict[str, Style] = {style.kind: style for style in STYLES}

FISHING = ("inside_bend", "seam", "tailout", "soft_edge", "even_run")
WADING = ("easy", "careful", "no", "unknown")
BEYOND = ("beyond", "only_left", "only_right")
ONLY_FROM = {"boat": "beyond", "left": "only_left", "right": "only_right"}
BEHIND = ("room", "tight", "blocked", "look")
"""Groups that are drawn side by side and must be distinguishable."""


@dataclass(frozen=True, slots=True)
class Ramp:
    """Colour classes of depth or speed, lowest first; each class starts at its bound [SI]."""

    quantity: str
    bounds: tuple[float, ...]
    day: tuple[str, ...]
    night: tuple[str, ...]


_DEPTH_DAY = ("#e4f1ec", "#bfdfdc", "#8fc4c8", "#5ca1b0", "#367d98", "#205b7b", "#123853")
_DEPTH_NIGHT = ("#8aa9a6", "#6f9195", "#557a83", "#3f6473", "#2c4f62", "#1d3a50", "#112639")
_SPEED_DAY = ("#eef0fb", "#d3d5f1", "#b4b4e2", "#9391cd", "#726eb0", "#534e8f", "#35306a")
_SPEED_NIGHT = ("#a6a8c8", "#8a8cb3", "#70729c", "#585985", "#43446d", "#302f55", "#1e1c3b")
"""Chosen so that slow water does not look like gravel, sand or leaves."""

PLAIN_DAY, PLAIN_NIGHT = "#a9cfd2", "#36565f"
"""Colours of water when neither depth nor speed is shown."""


WADED = 3
"""Number of closely spaced depth classes in any river: those of wading depth."""


def ramps(units: UnitSystem, deepest: float = 0.0) -> tuple[Ramp, Ramp]:
    """Return the classes of depth [m] and speed [m/s]: whole feet, or multiples of 0.3 m.

    Parameters
    ----------
    units
        Of the reach folder.
    deepest
        Depth that the classes are to span [m]: the last one begins at about four fifths of it.
        Those of wading depth are fixed, so that shallow and deep rivers look alike there.
    """
    step = 0.3048 if units is UnitSystem.US else 0.3
    even = tuple(range(7))
    last = max(even[-1], int(0.8 * deepest / step + 0.5))
    wide = (round(WADED * (last / WADED) ** (i / 3)) for i in (1, 2, 3))
    spread = (*even[: WADED + 1], *wide) if last > even[-1] else even
    return (
        Ramp("depth", tuple(round(step * i, 4) for i in spread), _DEPTH_DAY, _DEPTH_NIGHT),
        Ramp("speed", tuple(round(step * i, 4) for i in even), _SPEED_DAY, _SPEED_NIGHT),
    )
