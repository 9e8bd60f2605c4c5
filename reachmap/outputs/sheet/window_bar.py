"""A small bar of the window of flows at which a run fishes, with the sheet's flow marked."""

from __future__ import annotations

import html
import math

from reachmap.base.language import tr
from reachmap.outputs.sheet.signs import INK, PAPER

WIDTH, HEIGHT = 84.0, 14.0
"""Size of the bar [px]."""

EDGE = 5.0
"""Margin at both ends for the mark of this flow [px]."""


def window_bar(lowest: float, highest: float, window: tuple[float, float], flow: float) -> str:
    """Return the bar as SVG; without a window only a line with the mark of this flow.

    Parameters
    ----------
    lowest, highest
        Lowest and highest flow evaluated, at the ends of the bar [m3/s].
    window
        Lowest and highest flow of the run's window [m3/s]; NaN where it has none.
    flow
        The sheet's [m3/s].
    """
    place = _Scale(lowest, highest)
    heard = html.escape(tr("Flow window"))
    parts = [
        f'<svg class="bar" width="{WIDTH:g}" height="{HEIGHT:g}" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{heard}">'
        f'<path d="M{EDGE:g} 8H{WIDTH - EDGE:g}M{EDGE:g} 4v8M{WIDTH - EDGE:g} 4v8" fill="none" '
        f'stroke="{INK}" stroke-width="1.2"/>'
    ]
    low, high = window
    if math.isfinite(low) and math.isfinite(high):
        left, right = place.x(low), place.x(high)
        if right - left < 4:
            left, right = (left + right) / 2 - 2, (left + right) / 2 + 2
        parts.append(f'<path d="M{left:.1f} 8H{right:.1f}" stroke="{INK}" stroke-width="6"/>')
    at = place.x(flow)
    parts.append(
        f'<path d="M{at:.1f} 9l-4.5 -8.5h9z" fill="{PAPER}" stroke="{INK}" stroke-width="1.4" '
        'stroke-linejoin="round"/></svg>'
    )
    return "".join(parts)


class _Scale:
    """Logarithmic scale of the bar."""

    def __init__(self, lowest: float, highest: float) -> None:
        self.low = math.log(lowest)
        self.span = math.log(highest) - self.low

    def x(self, flow: float) -> float:
        """Return the x coordinate of a flow [px], limited to the bar."""
        share = (math.log(flow) - self.low) / self.span if self.span > 0 else 0.5
        return EDGE + (WIDTH - 2 * EDGE) * min(max(share, 0.0), 1.0)
