"""Layer switches of the page: their order, and which are on initially."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reachmap.outputs.palette import BEHIND, BEYOND, BY_KIND, STYLES, WADING, Style, Tone

PRESETS: tuple[tuple[str, str], ...] = (
    ("fish", "Fish"),
    ("wade", "Wade"),
    ("cast", "Cast"),
    ("sure", "How sure"),
)
"""Presets of layers; the first one is active when the page opens."""

_ALL = frozenset(name for name, _ in PRESETS)


@dataclass(frozen=True, slots=True)
class Switch:
    """One row of the list of layers: the kinds it shows and the presets that include it."""

    name: str
    words: str
    group: str
    kinds: tuple[str, ...]
    presets: frozenset[str]
    fixed: bool = False


def _one(kind: str, group: str, *presets: str) -> Switch:
    """Return the switch of a single kind."""
    return Switch(kind, BY_KIND[kind].words, group, (kind,), frozenset(presets))


_WATER, _WADE, _CAST, _DRAWN, _SURE = (
    "Water worth fishing",
    "Wading and channels",
    "Standing and casting",
    "What you drew",
    "How sure",
)

SWITCHES: tuple[Switch, ...] = (
    _one("inside_bend", _WATER, "fish", "cast"),
    _one("seam", _WATER, "fish", "cast"),
    _one("tailout", _WATER, "fish", "cast"),
    _one("soft_edge", _WATER, "fish", "cast"),
    _one("even_run", _WATER, "fish", "cast"),
    _one("structure", _WATER, "fish", "cast"),
    _one("left_over", _WATER),
    _one("seam_line", _WATER, "fish"),
    _one("tailout_line", _WATER),
    Switch("lane", BY_KIND["lane"].words, _WATER, ("lane", "band"), frozenset()),
    Switch("wading", "Wading grades", _WADE, WADING, frozenset({"wade"})),
    _one("bar", _WADE, "wade"),
    Switch(
        "side_channel",
        BY_KIND["side_channel"].words,
        _WADE,
        ("side_channel", "dead_arm"),
        frozenset({"fish", "wade"}),
    ),
    _one("station", _CAST, "cast"),
    _one("covered", _CAST, "cast"),
    Switch("beyond", BY_KIND["beyond"].words, _CAST, BEYOND, frozenset()),
    Switch("casting", "Room behind and the swing", _CAST, (*BEHIND, "swing"), frozenset({"cast"})),
    Switch("hazard", BY_KIND["hazard"].words, _DRAWN, ("hazard",), _ALL),
    Switch("access", BY_KIND["access"].words, _DRAWN, ("access",), _ALL),
    _one("own_run", _DRAWN, "fish"),
    _one("found_run", _DRAWN),
    _one("note", _DRAWN),
    _one("trip", _DRAWN, "fish"),
    _one("sounding", _DRAWN),
    Switch("river", BY_KIND["river"].words, _DRAWN, ("river",), frozenset({"fish", "wade"})),
    Switch("edge", BY_KIND["edge"].words, _SURE, ("edge",), _ALL),
    Switch("unknown_water", BY_KIND["unknown_water"].words, _SURE, ("unknown_water",), _ALL, True),
    Switch("guess", BY_KIND["guess"].words, _SURE, ("guess",), _ALL),
    _one("edge_band", _SURE, "sure"),
    _one("ask", _SURE, "sure"),
)
"""Every switch. Unknown water has none: it is always drawn."""


def legend() -> dict[str, Any]:
    """Return styles, switches and presets as plain JSON values for the page."""
    return {
        "styles": [_style(style) for style in STYLES],
        "switches": [
            {
                "name": switch.name,
                "words": switch.words,
                "group": switch.group,
                "kinds": list(switch.kinds),
                "presets": sorted(switch.presets),
                "fixed": switch.fixed,
            }
            for switch in SWITCHES
        ],
        "presets": [list(preset) for preset in PRESETS],
    }


def _style(style: Style) -> dict[str, Any]:
    """Return one style as plain values."""
    return {
        "kind": style.kind,
        "words": style.words,
        "letter": style.letter,
        "shape": style.shape.value,
        "pattern": style.pattern.value,
        "width": style.width,
        "dash": list(style.dash),
        "veil": style.veil,
        "day": _tone(style.day),
        "night": _tone(style.night),
    }


def _tone(tone: Tone) -> dict[str, str]:
    """Return one set of colours as plain values."""
    return {"ink": tone.ink, "casing": tone.casing, "fill": tone.fill, "hatch": tone.pattern}
