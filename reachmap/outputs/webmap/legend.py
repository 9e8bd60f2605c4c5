"""Layer switches of the page: their order, and which are on initially."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reachmap.base.language import noted, tr
from reachmap.outputs.palette import BEHIND, BEYOND, STYLES, WADING, Style, Tone
from reachmap.text.terms import DRAWN

PRESETS: tuple[tuple[str, str], ...] = (
    ("fish", noted("Fish")),
    ("wade", noted("Wade")),
    ("cast", noted("Cast")),
    ("sure", noted("How sure")),
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
    return Switch(kind, DRAWN[kind], group, (kind,), frozenset(presets))


_WATER, _WADE, _CAST, _DRAWN, _SURE = (
    noted("Water worth fishing"),
    noted("Wading and channels"),
    noted("Standing and casting"),
    noted("What you drew"),
    noted("How sure"),
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
    Switch("lane", DRAWN["lane"], _WATER, ("lane", "band"), frozenset()),
    Switch("wading", noted("Wading grades"), _WADE, WADING, frozenset({"wade"})),
    _one("bar", _WADE, "wade"),
    Switch(
        "side_channel",
        DRAWN["side_channel"],
        _WADE,
        ("side_channel", "dead_arm"),
        frozenset({"fish", "wade"}),
    ),
    _one("station", _CAST, "cast"),
    _one("covered", _CAST, "cast"),
    Switch("beyond", DRAWN["beyond"], _CAST, BEYOND, frozenset()),
    Switch(
        "casting",
        noted("Room behind and the swing"),
        _CAST,
        (*BEHIND, "swing"),
        frozenset({"cast"}),
    ),
    Switch("hazard", DRAWN["hazard"], _DRAWN, ("hazard",), _ALL),
    Switch("access", DRAWN["access"], _DRAWN, ("access",), _ALL),
    _one("own_run", _DRAWN, "fish"),
    _one("found_run", _DRAWN),
    _one("note", _DRAWN),
    _one("trip", _DRAWN, "fish"),
    _one("sounding", _DRAWN),
    Switch("river", DRAWN["river"], _DRAWN, ("river",), frozenset({"fish", "wade"})),
    Switch("edge", DRAWN["edge"], _SURE, ("edge",), _ALL),
    Switch("unknown_water", DRAWN["unknown_water"], _SURE, ("unknown_water",), _ALL, True),
    Switch("guess", DRAWN["guess"], _SURE, ("guess",), _ALL),
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
                "words": tr(switch.words),
                "group": tr(switch.group),
                "kinds": list(switch.kinds),
                "presets": sorted(switch.presets),
                "fixed": switch.fixed,
            }
            for switch in SWITCHES
        ],
        "presets": [[name, tr(words)] for name, words in PRESETS],
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
