"""Notes below a small drawing of a map: caution, preview, interpolation."""

from __future__ import annotations

from reachmap.base.language import tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.cautions import PREVIEW, SHORT


def between_line(low: float, high: float, units: UnitSystem) -> str:
    """Return a sentence on a map whose depths and speeds were interpolated.

    Parameters
    ----------
    low, high
        The solved flows on either side [m3/s].
    units
        Units shown.
    """
    return tr(
        "Read between the solved flows {low} and {high}: depths and speeds are interpolated.",
        low=flow_words(low, units),
        high=flow_words(high, units),
    )


def short_between(between: tuple[float, float] | None, units: UnitSystem) -> str:
    """Return the short sentence on the solved flows [m3/s] around an interpolated one; else ""."""
    if between is None:
        return ""
    low, high = (flow_words(one, units) for one in between)
    return tr("Worked out between {low} and {high}, which were solved.", low=low, high=high)


def map_notes(
    units: UnitSystem, *, preview: bool, between: tuple[float, float] | None
) -> list[str]:
    """Return the lines below a small drawing of a map, the caution first.

    Parameters
    ----------
    units
        Units shown.
    preview
        Whether the flow is the one-dimensional preview.
    between
        The solved flows [m3/s] on either side where the flow was interpolated; else None.
    """
    return [
        tr(SHORT),
        *([tr(PREVIEW)] if preview else []),
        *([] if between is None else [between_line(*between, units)]),
    ]
