"""A piece of water in a sentence, for small screens."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import short
from reachmap.text.terms import KINDS


def water_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what is said of a row of the layer `water`."""
    prime = " Prime: it holds over a length worth fishing." if row["prime"] else ""
    return (
        f"{KINDS[row['kind']]}, {row['side']}, {flow_words(row['flow'], units)}: "
        f"{short('depth', row['depth_m'], units)} deep, {short('speed', row['speed_m_s'], units)}, "
        f"{short('distance', row['length_m'], units)} long, how sure: {row['confidence']}."
        f"{prime} {row['run']}"
    ).strip()
