"""The key of a sheet's maps: depth classes, unknown water, fished water, walked line."""

from __future__ import annotations

import html

from shapely import LineString, box

from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.outputs.sheet.drawing import FISHED, STEPS, UNKNOWN, WALK, hatched
from reachmap.outputs.sheet.signs import INK, path_data
from reachmap.outputs.sheet.water import BREAKS
from reachmap.text.sheet import step_words

SWATCH = (28.0, 14.0)
"""Size of a swatch [px]."""


def key_of(units: UnitSystem, *, maps: bool) -> str:
    """Return the key as HTML.

    Parameters
    ----------
    units
        Units of the depth classes.
    maps
        Whether there are maps of runs; without them only unknown water is explained.
    """
    swatch = box(0.8, 0.8, SWATCH[0] - 0.8, SWATCH[1] - 0.8)
    rim = f'<path d="{path_data(swatch)}" fill="none" stroke="{INK}" stroke-width="1"/>'
    entries = []
    if maps:
        words = step_words(BREAKS[units], units)
        entries = [
            (hatched(swatch, look) + rim, meaning)
            for look, meaning in zip(STEPS, words, strict=True)
        ]
        middle = path_data(LineString([(1, SWATCH[1] / 2), (SWATCH[0] - 1, SWATCH[1] / 2)]))
        entries += [
            (
                f'<path d="{middle}" fill="none" stroke="{INK}" {FISHED}/>',
                tr("fish here"),
            ),
            (f'<path d="{middle}" fill="none" stroke="{INK}" {WALK}/>', tr("walk")),
        ]
    entries.append((hatched(swatch, UNKNOWN) + rim, tr("not known")))
    body = "".join(_entry(drawn, words) for drawn, words in entries)
    return f'<p class="key">{body}</p>'


def _entry(drawn: str, words: str) -> str:
    """Return one entry of the key."""
    size = f'width="{SWATCH[0]:g}" height="{SWATCH[1]:g}" viewBox="0 0 {SWATCH[0]:g} {SWATCH[1]:g}"'
    return f'<span><svg {size} aria-hidden="true">{drawn}</svg> {html.escape(words)}</span>'
