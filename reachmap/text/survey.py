"""Places worth a note, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.units import LENGTH, from_si
from reachmap.base.words import NoteKind, UnitSystem


def ask_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what to do at a row of the layer `asks`."""
    if row["kind"] == NoteKind.EDGE:
        return (
            "Mark where the water's edge stands here, on both banks, at a flow higher than the one "
            "you traced, and note that flow (layer edges)."
        )
    off, share = _worth(row, units)
    return (
        f"Measure the depth here and note the river's flow (layer soundings). The map may be out "
        f"by {off} either way; this one note takes away {share} of the doubt in the water worth "
        "fishing."
    )


def ask_worth(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what a note at a place is worth, for a list of places to sound."""
    if row["kind"] != NoteKind.SOUNDING:
        return ask_note(row, units)
    off, share = _worth(row, units)
    return f"the map may be out by {off}; takes away {share} of the doubt"


def _worth(row: Mapping[str, Any], units: UnitSystem) -> tuple[str, str]:
    """Return the doubt of the depth, and the share of the doubt that a note takes away."""
    unit = LENGTH[units]
    return f"{from_si(float(row['spread_m']), unit):.1f} {unit}", f"{100 * row['gain']:.0f} %"
