"""Codes of pieces of water: kind and stretch, so that they last over flows and rebuilds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from string import ascii_lowercase
from typing import Any

from reachmap.base.words import WaterKind

LETTERS: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: "B",
    WaterKind.SEAM: "S",
    WaterKind.TAILOUT: "T",
    WaterKind.SOFT_EDGE: "E",
    WaterKind.EVEN_RUN: "G",
}
"""First sign of a code."""

STRUCTURE_LETTER = "H"
"""First sign of a structure's code: water that holds fish."""


def codes_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the code of each piece of water of one flow, such as "B7", "B7b".

    Parameters
    ----------
    rows
        Of the layer `water`, with kind, stretch and area of the geometry.

    Notes
    -----
    The letter of the kind and the number of the stretch; where a stretch has several of a kind, the
    largest bears the plain code, the others a small letter by size. A stretch keeps its number as
    long as the drawn river line does (`stretches.sections_of`).
    """
    alike: dict[tuple[str, int], list[int]] = {}
    for number, row in enumerate(rows):
        alike.setdefault((str(row["kind"]), int(row["stretch"])), []).append(number)
    codes = [""] * len(rows)
    for (kind, stretch), numbers in alike.items():
        by_size = sorted(numbers, key=lambda k: (-rows[k]["geometry"].area, k))
        for place, number in enumerate(by_size):
            codes[number] = f"{LETTERS[kind]}{stretch}{_suffix(place)}"
    return codes


def _suffix(place: int) -> str:
    """Return the small letter of the piece of that size, from 0: "", "b", "c" to "z", "z27"."""
    if place == 0:
        return ""
    return ascii_lowercase[place] if place < len(ascii_lowercase) else f"z{place + 1}"
