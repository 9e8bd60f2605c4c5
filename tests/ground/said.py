"""What a ground says of itself, in words."""

from __future__ import annotations

from reachmap.base.words import UnitSystem
from reachmap.text.ground_notes import ground_sentences


def said_of(ground) -> str:
    """Return the sentences of a ground's notes and contradictions, one a line, in metric units."""
    return "\n".join(ground_sentences(ground.attrs, UnitSystem.METRIC))
