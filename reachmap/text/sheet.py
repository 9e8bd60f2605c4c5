"""Sentences of the pocket sheet."""

from __future__ import annotations

from collections.abc import Sequence

NOTHING = "No water worth a swing was found at this flow."


def under_heading(*, preview: bool, invented: bool, between: str = "") -> str:
    """Return how to read the strips, and what to know of the whole sheet.

    `between` says between which solved flows the sheet's lies; empty where it was solved.
    """
    told = ["Read each strip from the foot up: so the river runs. Numbers are the GPS names."]
    if between:
        told.append(between)
    if preview:
        told.append("PREVIEW: quick flow, rough speeds.")
    if invented:
        told.append("This river is invented.")
    return " ".join(told)


def foot_words(
    ways: Sequence[str], hazards: Sequence[str], asks: Sequence[str], left_out: int
) -> str:
    """Return access, what the signs mean and what is not on the sheet.

    Parameters
    ----------
    ways
        Ways in, with what was written on them.
    hazards
        Kinds of hazard that were drawn.
    asks
        Codes of places worth a note.
    left_out
        How many pieces of water the table leaves out.
    """
    told = [f"P access: {'; '.join(ways)}." if ways else "No access was marked."]
    if hazards:
        told.append(
            f"! marked hazards: {', '.join(hazards)}; in the table: where you fish, down the "
            "current or on your walk. There are others."
        )
    told.append(
        "^ a hand's breadth more water shuts some of its places, or the way in or back. "
        "* prime: it holds over a length. ~ a guess. ? or not known: treat it as too deep, too "
        "fast, no room. Wade: the deepest place to stand. Room: the least behind any place."
    )
    if asks:
        told.append(f"Worth a note: {asks[0]} to {asks[-1]} in the GPS.")
    if left_out:
        told.append(f"{left_out} lesser pieces are left out.")
    return " ".join(told)
