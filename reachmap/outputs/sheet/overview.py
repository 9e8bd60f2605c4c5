"""Overview of the whole reach in strips, with the runs of the list, where a side has room."""

from __future__ import annotations

import html
from collections.abc import Sequence

from reachmap.base.centreline import Centreline
from reachmap.base.language import tr
from reachmap.base.words import WadeGrade
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.drawing import UNKNOWN, Shown, hatched
from reachmap.outputs.sheet.panel import RunFacts
from reachmap.outputs.sheet.signs import (
    INK,
    LETTERS,
    PAPER,
    Spots,
    access_and_hazards,
    map_spots,
    north,
    path_data,
    scale_bar,
)
from reachmap.outputs.sheet.strips import Strip, cut_strips

GAP_PX = 6.0
"""Between strips [px]."""


def overview(
    product: Product, label: str, facts: Sequence[RunFacts], size: tuple[float, float]
) -> tuple[str, Shown]:
    """Return the whole reach at a flow as HTML, and what the key must explain.

    Parameters
    ----------
    product
        The built reach.
    label
        The flow.
    facts
        Facts of the runs of the list: their numbers mark where they begin.
    size
        Width and height of all strips together [px].
    """
    strips = cut_strips(product.ground, width=size[0], height=size[1], gap=GAP_PX)
    letters: dict[str, str] = {}
    parts, unknown = [], False
    heard = html.escape(tr("The reach, the river running up it"))
    for strip in strips:
        spots = map_spots(strip)
        numbers = _numbers(product, spots, facts)
        signs = list(access_and_hazards(product, spots))
        letters |= {letter: words for _, letter, words in signs}
        lost = _unknown(product, label, strip)
        unknown |= bool(lost)
        parts.append(
            f'<svg viewBox="0 0 {strip.width:.1f} {strip.height:.1f}" class="strip" '
            f'width="{strip.width:.1f}" height="{strip.height:.1f}" role="img" '
            f'aria-label="{heard}">'
            f"{''.join(_edges(product, label, strip))}{''.join(lost)}"
            f"{''.join(drawn for drawn, *_ in signs)}"
            f"{''.join(numbers)}{north(strip)}{scale_bar(product, strip)}</svg>"
        )
    return f'<div class="strips">{"".join(parts)}</div>', Shown(letters, unknown)


def _edges(product: Product, label: str, strip: Strip) -> list[str]:
    """Return the edge of the water."""
    frame = product.layers["wetted"]
    shapes = strip.all_drawn(frame[frame["flow_label"] == label].geometry.to_numpy())
    return [
        f'<path d="{path_data(shape)}" fill="none" stroke="{INK}" stroke-width="1.4"/>'
        for shape in shapes
    ]


def _unknown(product: Product, label: str, strip: Strip) -> list[str]:
    """Return the unknown water, hatched with bricks."""
    wading = product.layers["wading"]
    mine = wading[(wading["flow_label"] == label) & (wading["grade"] == WadeGrade.UNKNOWN)]
    return [hatched(shape, UNKNOWN) for shape in strip.all_drawn(mine.geometry.to_numpy())]


def _numbers(product: Product, spots: Spots, facts: Sequence[RunFacts]) -> list[str]:
    """Return the number of each run in a disc at its first place to stand."""
    parts = []
    for one in facts:
        place = one.begins(Centreline.of(product.ground))
        if not spots.view.around.contains(place):
            continue
        x, y = spots.put(place, (9.0, 9.0))
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9" fill="{INK}" stroke="{PAPER}" '
            f'stroke-width="1.6"/><text x="{x:.1f}" y="{y + 4.3:.1f}" {LETTERS} fill="{PAPER}">'
            f"{one.stop.number}</text>"
        )
    return parts
